//! A socket or a serial line, read with a time to wait.

use std::fs::canonicalize;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::time::Duration;

use serialport::{SerialPort, TTYPort};

use crate::address::Address;
use crate::meter::OpenError;

/// Bytes there and back.
pub(crate) trait Wire: Send {
    /// Reads what is there, or waits for it so long; nothing in time is `TimedOut`, and zero
    /// bytes are the end.
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize>;

    /// Writes all of it.
    fn write(&mut self, bytes: &[u8], wait: Duration) -> io::Result<()>;

    /// Whether there is something to read, the end included.
    fn pending(&mut self) -> io::Result<bool>;
}

/// Opens the address. Whether a line may hold what was meant for an earlier user, is the second.
pub(crate) fn open(address: &Address, wait: Duration) -> Result<(Box<dyn Wire>, bool), OpenError> {
    match address {
        Address::Tcp { host, port } => {
            let address = || address.clone();
            let found = format!("{host}:{port}").to_socket_addrs();
            let found = found.map_err(|_| OpenError::Name { host: host.clone() })?;
            let mut kind = ErrorKind::NotFound;
            for one in found {
                match TcpStream::connect_timeout(&one, wait).and_then(Socket::new) {
                    Ok(socket) => return Ok((Box::new(socket), false)),
                    Err(error) => kind = error.kind(),
                }
            }
            Err(OpenError::Connect { address: address(), kind })
        }
        Address::Serial { device, baud } => {
            // A pseudo-terminal keeps the lock of a client that was killed.
            let terminal = canonicalize(device).is_ok_and(|path| path.starts_with("/dev/pts"));
            let line = serialport::new(device, *baud).exclusive(!terminal);
            match line.open_native() {
                Ok(port) => Ok((Box::new(Line(port)), true)),
                Err(error) => Err(OpenError::Device {
                    device: device.clone(),
                    kind: io::Error::from(error).kind(),
                }),
            }
        }
    }
}

/// A connection.
pub(crate) struct Socket {
    stream: TcpStream,
    /// The waits that the socket is set to, to read and to write.
    waits: [Option<Duration>; 2],
}

impl Socket {
    pub(crate) fn new(stream: TcpStream) -> io::Result<Self> {
        // A port that nobody listens on can be joined to itself on one machine.
        if stream.local_addr()? == stream.peer_addr()? {
            return Err(ErrorKind::ConnectionRefused.into());
        }
        stream.set_nodelay(true)?;
        Ok(Self { stream, waits: [None; 2] })
    }
}

impl Wire for Socket {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        let wait = Some(wait.max(Duration::from_millis(1)));
        if self.waits[0] != wait {
            self.stream.set_read_timeout(wait)?;
            self.waits[0] = wait;
        }
        self.stream.read(into).map_err(as_timed_out)
    }

    fn write(&mut self, bytes: &[u8], wait: Duration) -> io::Result<()> {
        let wait = Some(wait.max(Duration::from_millis(1)));
        if self.waits[1] != wait {
            self.stream.set_write_timeout(wait)?;
            self.waits[1] = wait;
        }
        self.stream.write_all(bytes).map_err(as_timed_out)
    }

    fn pending(&mut self) -> io::Result<bool> {
        self.stream.set_nonblocking(true)?;
        let found = self.stream.peek(&mut [0]);
        self.stream.set_nonblocking(false)?;
        match found {
            Ok(_) => Ok(true),
            Err(error) if error.kind() == ErrorKind::WouldBlock => Ok(false),
            Err(error) => Err(error),
        }
    }
}

/// A serial line, or an end of a pseudo-terminal.
pub(crate) struct Line(pub(crate) TTYPort);

impl Wire for Line {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        self.0.set_timeout(wait)?;
        self.0.read(into).map_err(as_timed_out)
    }

    fn write(&mut self, bytes: &[u8], wait: Duration) -> io::Result<()> {
        self.0.set_timeout(wait)?;
        self.0.write_all(bytes).map_err(as_timed_out)
    }

    fn pending(&mut self) -> io::Result<bool> {
        Ok(self.0.bytes_to_read()? > 0)
    }
}

/// Systems differ in what they call it when nothing came in time.
fn as_timed_out(error: io::Error) -> io::Error {
    match error.kind() {
        ErrorKind::WouldBlock => ErrorKind::TimedOut.into(),
        _ => error,
    }
}
