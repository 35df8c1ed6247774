//! One question and its answer over a socket of this machine: ours beside a bare socket that
//! talks to a bare echo, in turns in one run; then two meters that are read at a pace together.
//! Prints a row each for docs/performance.md.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::thread;
use std::time::{Duration, Instant};

use instrument::reader::{News, Questions, Stream};
use instrument::serve::{Server, serve_tcp};
use instrument::{Address, Meter, Settings};

const QUESTION: &str = "MEAS:VOLT:DC?";
const ROUNDS: usize = 41;
const EACH: u32 = 500;

fn main() {
    let echo = listen();
    let at_echo = echo.local_addr().expect("it is bound");
    thread::spawn(move || {
        for client in echo.incoming() {
            thread::spawn(|| answer(client.expect("a client came")));
        }
    });
    let ours = serve_tcp(listen(), |_: &str| Some("1.0000E4".to_owned())).expect("it is bound");

    let mut socket = TcpStream::connect(at_echo).expect("it listens");
    socket.set_nodelay(true).expect("a socket has this setting");
    let to_echo = Address::Tcp { host: "127.0.0.1".to_owned(), port: at_echo.port() };
    let mut to_echo = Meter::open(&to_echo, Settings::default()).expect("it listens");
    let mut to_ours = Meter::open(ours.address(), Settings::default()).expect("it listens");

    let mut times = [(); 3].map(|()| Vec::with_capacity(ROUNDS));
    for _ in 0..ROUNDS {
        times[0].push(round(|| bare(&mut socket)));
        times[1].push(round(|| drop(to_echo.ask_line(QUESTION).expect("an echo"))));
        times[2].push(round(|| drop(to_ours.ask_line(QUESTION).expect("an answer"))));
    }
    let [bare, client, both] = times.map(undisturbed);
    println!("| bare socket, bare echo | {bare:.1} µs | 1 |");
    println!("| our question, bare echo | {client:.1} µs | {:.2} |", client / bare);
    println!("| our question, our server | {both:.1} µs | {:.2} |", both / bare);
    println!("| two meters, asked each millisecond | {:.0} readings/s | |", paced(&ours));
}

/// Readings of voltage and current each second, from two meters together.
fn paced(server: &Server) -> f64 {
    const FOR: Duration = Duration::from_secs(5);
    let started = Instant::now();
    let streams = [(); 2].map(|()| {
        let meter = Meter::open(server.address(), Settings::default()).expect("it listens");
        let pace = Duration::from_millis(1);
        Stream::start(meter, Questions::default(), pace, move || started.elapsed())
    });
    let in_time = |one: &News<Duration>| match one {
        News::Reading(reading) => reading.at < FOR,
        other => panic!("only readings: {other:?}"),
    };
    let counted = streams.map(|(stream, news)| {
        thread::spawn(move || {
            let many = news.iter().take_while(in_time).map(|_| 1).sum::<u32>();
            stream.stop();
            many
        })
    });
    let many: u32 = counted.into_iter().map(|one| one.join().expect("only readings")).sum();
    f64::from(many) / FOR.as_secs_f64()
}

fn listen() -> TcpListener {
    TcpListener::bind("127.0.0.1:0").expect("a socket of this machine")
}

fn answer(mut client: TcpStream) {
    client.set_nodelay(true).expect("a socket has this setting");
    let mut bytes = [0; 1024];
    while let Ok(got @ 1..) = client.read(&mut bytes) {
        if client.write_all(&bytes[..got]).is_err() {
            return;
        }
    }
}

fn bare(socket: &mut TcpStream) {
    let mut bytes = [0; 1024];
    socket.write_all(format!("{QUESTION}\n").as_bytes()).expect("it reads");
    let mut got = 0;
    while got == 0 || bytes[got - 1] != b'\n' {
        got += socket.read(&mut bytes[got..]).expect("it answers");
    }
}

/// Microseconds for one exchange.
fn round(mut exchange: impl FnMut()) -> f64 {
    let started = Instant::now();
    for _ in 0..EACH {
        exchange();
    }
    started.elapsed().as_secs_f64() * 1e6 / f64::from(EACH)
}

/// The tenth part of the rounds took no longer: on a busy machine the median tells of the others.
fn undisturbed(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 10]
}
