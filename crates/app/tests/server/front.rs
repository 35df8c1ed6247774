//! The address that stands before a server and its standby: whoever owns two turns it from one to
//! the other, and no program has to be told.

use std::io;
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicU16, Ordering};
use std::thread;

pub(crate) struct Front {
    pub(crate) address: SocketAddr,
    port: Arc<AtomicU16>,
}

impl Front {
    /// Leads to the server at this port, until this program ends.
    pub(crate) fn new(port: u16) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port is free");
        let address = listener.local_addr().expect("it is bound");
        let port = Arc::new(AtomicU16::new(port));
        let to = Arc::clone(&port);
        thread::spawn(move || {
            for near in listener.incoming().flatten() {
                let to = to.load(Ordering::Relaxed);
                // Where nobody listens the caller hears that at once: its end is dropped.
                if let Ok(far) = TcpStream::connect(("127.0.0.1", to)) {
                    carry(&near, &far);
                }
            }
        });
        Self { address, port }
    }

    /// Leads whoever comes from now on to this port.
    pub(crate) fn turn_to(&self, port: u16) {
        self.port.store(port, Ordering::Relaxed);
    }
}

/// Carries both ways until one of them ends.
fn carry(near: &TcpStream, far: &TcpStream) {
    for (from, to) in [(near, far), (far, near)] {
        let (Ok(mut from), Ok(mut to)) = (from.try_clone(), to.try_clone()) else { return };
        let _ = to.set_nodelay(true);
        thread::spawn(move || {
            // However it ends, it has ended for both.
            let _ = io::copy(&mut from, &mut to);
            let _ = from.shutdown(Shutdown::Both);
            let _ = to.shutdown(Shutdown::Both);
        });
    }
}
