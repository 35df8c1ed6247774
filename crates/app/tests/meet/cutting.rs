//! A line between laptop and office that is cut after so many bytes, as often as it is told.

use std::io::{Read as _, Write as _};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::thread::JoinHandle;

/// The generator SplitMix64 (Steele, Lea and Flood 2014, figure 16; from memory, unverified).
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) % end.max(1)
    }
}

pub(crate) struct Line {
    pub(crate) address: SocketAddr,
    cuts: Arc<AtomicU64>,
    end: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Line {
    /// Cuts so many of the connections to come, each after some of so many bytes.
    pub(crate) fn new(office: String, seed: u64, cut: u64, most: u64) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = listener.local_addr().expect("an address");
        let (cuts, end) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicBool::new(false)));
        let (cuts_here, end_here) = (Arc::clone(&cuts), Arc::clone(&end));
        let thread = std::thread::spawn(move || {
            let mut chance = Chance(seed);
            for taken in listener.incoming() {
                if end_here.load(Ordering::Relaxed) {
                    break;
                }
                let Ok(near) = taken else { continue };
                let Ok(far) = TcpStream::connect(&office) else { continue };
                let cut_it = cuts_here.load(Ordering::Relaxed) < cut;
                // Short ones are as likely as long ones: a head, a list, the middle of a batch.
                let scale =
                    [200, 4000, 40_000, most][usize::try_from(chance.below(4)).expect("few")];
                let left = if cut_it { 1 + chance.below(scale) } else { u64::MAX >> 1 };
                carry(near, far, left, &cuts_here);
            }
        });
        Self { address, cuts, end, thread: Some(thread) }
    }

    pub(crate) fn cuts(&self) -> u64 {
        self.cuts.load(Ordering::Relaxed)
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.end.store(true, Ordering::Relaxed);
        // Wakes it up.
        let _ = TcpStream::connect(self.address);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Carries both ways until so many bytes went, then cuts both.
fn carry(near: TcpStream, far: TcpStream, left: u64, cuts: &Arc<AtomicU64>) {
    let left = Arc::new(AtomicI64::new(i64::try_from(left).unwrap_or(i64::MAX)));
    let pairs = [(&near, &far), (&far, &near)];
    for (from, to) in pairs {
        let (Ok(mut from), Ok(mut to)) = (from.try_clone(), to.try_clone()) else { return };
        let (left, cuts) = (Arc::clone(&left), Arc::clone(cuts));
        std::thread::spawn(move || {
            let mut bytes = [0; 8192];
            loop {
                let count = from.read(&mut bytes).unwrap_or(0);
                let size = i64::try_from(count).unwrap_or(0);
                let before = left.fetch_sub(size, Ordering::Relaxed);
                let through = before.clamp(0, size);
                let whole = usize::try_from(through).unwrap_or(0);
                let sent = to.write_all(&bytes[..whole]).is_ok();
                if before > 0 && before <= size && count > 0 {
                    cuts.fetch_add(1, Ordering::Relaxed);
                }
                if count == 0 || !sent || whole < count {
                    break;
                }
            }
            let _ = from.shutdown(Shutdown::Both);
            let _ = to.shutdown(Shutdown::Both);
        });
    }
}
