//! One register of a logger, read over a socket.
//!
//! A request is a head of seven bytes (number of the transaction, two zeros, length of the rest,
//! number of the device behind the socket), the function, the first register and how many. The
//! answer repeats the head, then the function, the count of bytes and the bytes, the higher one
//! first; a function with its highest bit set is a refusal with its code (Modbus Messaging on
//! TCP/IP Implementation Guide V1.0b and Modbus Application Protocol V1.1b3, 6.3, 6.4 and 7; from
//! memory, unverified). Nothing is ever written to a register.

use std::io::{self, Read as _, Write as _};
use std::net::{TcpStream, ToSocketAddrs as _};
use std::time::Duration;

use crate::address::Address;

/// Reads what was set or stored.
const HOLDING: u8 = 3;
/// Reads what is measured.
const INPUT: u8 = 4;
/// Set in the function of a refusal.
const REFUSED: u8 = 0x80;
/// The number of every transaction: there is one to a connection.
const TRANSACTION: [u8; 2] = [0, 1];

/// Which register, and behind which device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Register {
    /// Where the logger is.
    pub address: Address,
    /// Number of the device behind the socket.
    pub device: u8,
    /// Number of the register, from zero.
    pub number: u16,
    /// It is an input register, and no holding register.
    pub is_input: bool,
}

/// Why a register was not read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RegisterError {
    /// A logger is asked over a socket alone.
    NoSocket,
    /// Nothing answers there, or not in time.
    Wire {
        /// What the system says.
        kind: io::ErrorKind,
    },
    /// It refuses the question.
    Refused {
        /// Its code; 2 is a register that it does not have.
        code: u8,
    },
    /// What came is no answer to it.
    Otherwise,
}

impl Register {
    /// Reads it once, as a whole number with its sign, on a connection of its own.
    ///
    /// # Errors
    ///
    /// When no answer comes in time, or another one.
    pub fn read(&self, wait: Duration) -> Result<i16, RegisterError> {
        let Address::Tcp { host, port } = &self.address else {
            return Err(RegisterError::NoSocket);
        };
        let wire = |error: io::Error| RegisterError::Wire { kind: error.kind() };
        let places = (host.trim_matches(['[', ']']), *port).to_socket_addrs().map_err(wire)?;
        let mut failed = io::ErrorKind::NotFound;
        for place in places {
            match TcpStream::connect_timeout(&place, wait) {
                Ok(stream) => return self.ask(stream, wait),
                Err(error) => failed = error.kind(),
            }
        }
        Err(RegisterError::Wire { kind: failed })
    }

    fn ask(&self, mut stream: TcpStream, wait: Duration) -> Result<i16, RegisterError> {
        let wire = |error: io::Error| RegisterError::Wire { kind: error.kind() };
        stream.set_read_timeout(Some(wait)).map_err(wire)?;
        stream.set_write_timeout(Some(wait)).map_err(wire)?;
        stream.write_all(&self.request()).map_err(wire)?;
        let mut head = [0; 9];
        stream.read_exact(&mut head).map_err(wire)?;
        let function = self.function();
        let [t0, t1, p0, p1, _, _, device, told, count] = head;
        if [t0, t1] != TRANSACTION || [p0, p1] != [0, 0] || device != self.device {
            return Err(RegisterError::Otherwise);
        }
        if told == function | REFUSED {
            return Err(RegisterError::Refused { code: count });
        }
        if told != function || count != 2 {
            return Err(RegisterError::Otherwise);
        }
        let mut value = [0; 2];
        stream.read_exact(&mut value).map_err(wire)?;
        Ok(i16::from_be_bytes(value))
    }

    const fn function(&self) -> u8 {
        if self.is_input { INPUT } else { HOLDING }
    }

    fn request(&self) -> [u8; 12] {
        let [t0, t1] = TRANSACTION;
        let [high, low] = self.number.to_be_bytes();
        [t0, t1, 0, 0, 0, 6, self.device, self.function(), high, low, 0, 1]
    }
}

#[cfg(test)]
mod tests {
    use std::net::TcpListener;
    use std::thread;

    use super::*;

    /// Answers one request with these bytes; gives the request.
    fn asked(answer: &'static [u8], is_input: bool) -> (Vec<u8>, Result<i16, RegisterError>) {
        let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
        let port = listener.local_addr().expect("bound").port();
        let peer = thread::spawn(move || {
            let (mut client, _) = listener.accept().expect("somebody comes");
            let mut request = [0; 12];
            client.read_exact(&mut request).expect("a whole request");
            client.write_all(answer).expect("it listens");
            request.to_vec()
        });
        let address = Address::Tcp { host: "127.0.0.1".to_owned(), port };
        let register = Register { address, device: 17, number: 0x6b, is_input };
        let read = register.read(Duration::from_secs(5));
        (peer.join().expect("the peer ends"), read)
    }

    /// Function 3, register 0x006B and the value 0x022B are those of the specification's own
    /// example (V1.1b3, 6.3; from memory, unverified), the head by its guide.
    #[test]
    fn a_register_is_asked_and_read_as_the_specification_shows() {
        let answer = [0, 1, 0, 0, 0, 5, 17, 3, 2, 0x02, 0x2b];
        let (request, read) = asked(Box::leak(Box::new(answer)), false);
        assert_eq!(request, [0, 1, 0, 0, 0, 6, 17, 3, 0x00, 0x6b, 0, 1]);
        assert_eq!(read, Ok(555));
        let (request, read) = asked(&[0, 1, 0, 0, 0, 5, 17, 4, 2, 0xff, 0xfb], true);
        assert_eq!((request[7], read), (4, Ok(-5)));
    }

    #[test]
    fn what_is_no_answer_is_no_value() {
        let check = |answer, expected| assert_eq!(asked(answer, false).1, Err(expected));
        check(&[0, 1, 0, 0, 0, 3, 17, 0x83, 2], RegisterError::Refused { code: 2 });
        check(&[0, 2, 0, 0, 0, 5, 17, 3, 2, 0, 1], RegisterError::Otherwise);
        check(&[0, 1, 0, 0, 0, 5, 16, 3, 2, 0, 1], RegisterError::Otherwise);
        check(&[0, 1, 0, 0, 0, 7, 17, 3, 4, 0, 1, 0, 1], RegisterError::Otherwise);
        let cut = RegisterError::Wire { kind: io::ErrorKind::UnexpectedEof };
        check(&[0, 1, 0, 0, 0, 5, 17, 3, 2, 0], cut.clone());
        check(&[], cut);
    }
}
