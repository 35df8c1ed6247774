//! Devices behind a socket that write down every answer they gave.

use std::net::{Ipv4Addr, TcpListener};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use instrument::serve::{Server, serve_tcp};
use practice::{Habits, Hand, Rig, Skin};
use quantity::Time;

use crate::job_file;

/// Kilovolts and microamperes as they were sent; none where the meter was over its range.
pub(crate) type Pair = (Option<f64>, Option<f64>);

/// What was sent to one run.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sent(Arc<Mutex<Log>>);

#[derive(Debug, Default)]
struct Log {
    pairs: Vec<Pair>,
    volts: Option<Option<f64>>,
}

impl Sent {
    /// Every pair whose both halves were asked.
    pub(crate) fn pairs(&self) -> Vec<Pair> {
        lock(&self.0).pairs.clone()
    }

    fn note(&self, question: &str, answer: &str) {
        let mut log = lock(&self.0);
        // SCPI-1999 volume 1, 7.2.1.4, from memory: 9.9E37 stands for beyond the range.
        let value = answer.parse::<f64>().ok().filter(|value| value.abs() < 9e37);
        if question.starts_with("MEAS:VOLT") {
            log.volts = Some(value.map(|volts| volts / 1e3));
        } else if question.starts_with("MEAS:CURR") {
            let volts = log.volts.take().expect("the voltage is asked first");
            log.pairs.push((volts, value.map(|amperes| amperes * 1e6)));
        }
    }
}

/// A practice set whose object stays charged whatever becomes of the programs that ask it.
pub(crate) struct Bench(Arc<Mutex<Skin>>);

impl Bench {
    pub(crate) fn new(seed: u64) -> Self {
        let text = std::fs::read_to_string(job_file()).expect("in the tree");
        let job = plan::job_file::parse(&text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let rig = Rig::new(&job, &plan, seed).expect("the example names set and object");
        let hand = Hand::new(&plan, Habits::default()).expect("the example can be worked");
        Self(Arc::new(Mutex::new(Skin::new(rig, hand))))
    }

    /// Serves one run. Without a speed the set's time stands until it is told; with one it goes
    /// so much faster than the clock.
    pub(crate) fn serve(&self, speed: Option<f64>) -> (Server, Sent) {
        let skin = Arc::clone(&self.0);
        let sent = Sent::default();
        let log = sent.clone();
        let mut since = Instant::now();
        let server = serve(move |line: &str| {
            let mut skin = lock(&skin);
            if let Some(speed) = speed {
                let now = Instant::now();
                skin.advance_by(Time::from_seconds((now - since).as_secs_f64() * speed));
                since = now;
            }
            let answer = skin.answer(line)?;
            log.note(line, &answer);
            Some(answer)
        });
        (server, sent)
    }
}

/// Puts a device behind a socket.
pub(crate) fn serve(device: impl FnMut(&str) -> Option<String> + Send + 'static) -> Server {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port is free");
    serve_tcp(listener, device).expect("a bound listener has an address")
}

pub(crate) fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
