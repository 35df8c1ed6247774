//! From bytes to answers: lines and definite blocks, with a bound on what is kept.
//!
//! A line ends with a line feed, with or without a carriage return before it. A definite block is
//! `#`, one digit that says how many digits follow, these digits as the count of bytes, and the
//! bytes (IEEE 488.2-1992, definite length arbitrary block; from memory, unverified).

/// What a peer sent whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// A line, without its end.
    Line(String),
    /// The bytes of a definite block.
    Block(Vec<u8>),
}

/// Why what came is no answer. What is shown of it is its start, with odd bytes escaped.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FrameFault {
    /// It went on past the bound; all of it was dropped.
    TooLong {
        /// The bound in bytes.
        longest: usize,
        /// Its start.
        start: String,
    },
    /// It holds control characters or is no text at all.
    NotText {
        /// Its start.
        start: String,
    },
    /// A block without a count, or one without end.
    BlockHead {
        /// Its start.
        start: String,
    },
    /// More followed a block than the end of a line.
    BlockEnd,
}

impl FrameFault {
    /// The start of what was sent.
    #[must_use]
    pub fn start(&self) -> &str {
        match self {
            Self::TooLong { start, .. } | Self::NotText { start } | Self::BlockHead { start } => {
                start
            }
            Self::BlockEnd => "",
        }
    }
}

#[derive(Debug)]
enum State {
    /// Text, or the head of a block.
    Text,
    /// The bytes of a block, and how many are still to come.
    Block { left: usize },
    /// After a block: only the end of the line may follow.
    AfterBlock { clean: bool },
    /// A fault was found; bytes are dropped, first this many, then to the end of the line.
    Dropping { left: usize, fault: FrameFault },
}

/// Takes bytes as they come and gives what is whole. It keeps at most `longest` bytes.
#[derive(Debug)]
pub struct Framer {
    kept: Vec<u8>,
    longest: usize,
    state: State,
}

impl Framer {
    /// With this bound on one answer, in bytes.
    #[must_use]
    pub fn new(longest: usize) -> Self {
        Self { kept: Vec::new(), longest, state: State::Text }
    }

    /// Takes from the start of `input` until something is whole; call it until it gives `None`,
    /// which it does once `input` is used up.
    ///
    /// ```
    /// use instrument::Answer;
    /// use instrument::framer::Framer;
    /// let mut framer = Framer::new(80);
    /// let mut input: &[u8] = b"1.5\r\n2.";
    /// assert_eq!(framer.take(&mut input), Some(Ok(Answer::Line("1.5".to_owned()))));
    /// assert_eq!(framer.take(&mut input), None);
    /// assert_eq!(framer.partial(), 2);
    /// ```
    pub fn take(&mut self, input: &mut &[u8]) -> Option<Result<Answer, FrameFault>> {
        while let Some((&byte, rest)) = input.split_first() {
            if let State::Block { left } = &mut self.state {
                let many = input.len().min(*left);
                self.kept.extend_from_slice(&input[..many]);
                *left -= many;
                *input = &input[many..];
                if *left == 0 {
                    self.state = State::AfterBlock { clean: true };
                }
                continue;
            }
            *input = rest;
            if let Some(whole) = self.step(byte) {
                return Some(whole);
            }
        }
        None
    }

    /// How many bytes wait for the rest of their answer.
    #[must_use]
    pub fn partial(&self) -> usize {
        match self.state {
            State::Text | State::Block { .. } => self.kept.len(),
            State::AfterBlock { .. } | State::Dropping { .. } => self.kept.len().max(1),
        }
    }

    /// Forgets what waits.
    pub fn clear(&mut self) {
        self.kept.clear();
        self.state = State::Text;
    }

    fn step(&mut self, byte: u8) -> Option<Result<Answer, FrameFault>> {
        match &mut self.state {
            State::Text => self.text(byte),
            // `take` fills blocks by itself.
            State::Block { .. } => None,
            State::AfterBlock { clean } => {
                if byte != b'\n' {
                    *clean &= byte == b'\r';
                    return None;
                }
                let block = std::mem::take(&mut self.kept);
                let clean = *clean;
                self.clear();
                Some(if clean { Ok(Answer::Block(block)) } else { Err(FrameFault::BlockEnd) })
            }
            State::Dropping { left, .. } if *left > 0 => {
                *left -= 1;
                None
            }
            State::Dropping { fault, .. } => {
                if byte != b'\n' {
                    return None;
                }
                let fault = fault.clone();
                self.clear();
                Some(Err(fault))
            }
        }
    }

    fn text(&mut self, byte: u8) -> Option<Result<Answer, FrameFault>> {
        if byte == b'\n' {
            let line = std::mem::take(&mut self.kept);
            return whole_line(line);
        }
        if byte == b'\r' && self.kept.is_empty() {
            return None;
        }
        if self.kept.len() == self.longest {
            let start = beginning(&self.kept);
            self.drop_from(0, FrameFault::TooLong { longest: self.longest, start });
            return None;
        }
        self.kept.push(byte);
        self.block_head();
        None
    }

    /// Goes over to a block when the head of one is whole. A `#` with a letter is a number in
    /// another base, and stays text.
    fn block_head(&mut self) {
        let (Some(b'#'), Some(&count)) = (self.kept.first(), self.kept.get(1)) else { return };
        if !count.is_ascii_digit() {
            return;
        }
        let digits = &self.kept[2..];
        let wanted = usize::from(count - b'0');
        let fault = FrameFault::BlockHead { start: beginning(&self.kept) };
        if wanted == 0 || !digits.iter().all(u8::is_ascii_digit) {
            return self.drop_from(0, fault);
        }
        if digits.len() < wanted {
            return;
        }
        let length = digits.iter().fold(0, |sum, digit| sum * 10 + usize::from(digit - b'0'));
        if length > self.longest {
            let start = beginning(&self.kept);
            return self.drop_from(length, FrameFault::TooLong { longest: self.longest, start });
        }
        self.kept.clear();
        self.state = if length == 0 {
            State::AfterBlock { clean: true }
        } else {
            State::Block { left: length }
        };
    }

    fn drop_from(&mut self, left: usize, fault: FrameFault) {
        self.kept.clear();
        self.state = State::Dropping { left, fault };
    }
}

/// An empty line is a stray end of a line, no answer.
fn whole_line(mut line: Vec<u8>) -> Option<Result<Answer, FrameFault>> {
    if line.last() == Some(&b'\r') {
        line.pop();
    }
    if line.is_empty() {
        return None;
    }
    let text = String::from_utf8(line);
    Some(match text {
        Ok(text) if !text.contains(|letter: char| letter.is_control() && letter != '\t') => {
            Ok(Answer::Line(text))
        }
        Ok(text) => Err(FrameFault::NotText { start: beginning(text.as_bytes()) }),
        Err(bytes) => Err(FrameFault::NotText { start: beginning(bytes.as_bytes()) }),
    })
}

/// The start of what was sent, fit to be shown.
pub(crate) fn beginning(bytes: &[u8]) -> String {
    const SHOWN: usize = 40;
    let start = bytes[..bytes.len().min(SHOWN)].escape_ascii().to_string();
    if bytes.len() > SHOWN { start + " …" } else { start }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(framer: &mut Framer, mut bytes: &[u8]) -> Vec<Result<Answer, FrameFault>> {
        std::iter::from_fn(|| framer.take(&mut bytes)).collect()
    }

    fn line(text: &str) -> Result<Answer, FrameFault> {
        Ok(Answer::Line(text.to_owned()))
    }

    /// The same whole and byte by byte.
    fn check(bytes: &[u8], expected: &[Result<Answer, FrameFault>], partial: usize) {
        let mut framer = Framer::new(8);
        assert_eq!(all(&mut framer, bytes), expected, "{}", bytes.escape_ascii());
        assert_eq!(framer.partial(), partial, "{}", bytes.escape_ascii());
        let mut framer = Framer::new(8);
        let found: Vec<_> =
            bytes.iter().flat_map(|byte| all(&mut framer, std::slice::from_ref(byte))).collect();
        assert_eq!(found, expected, "{}", bytes.escape_ascii());
        framer.clear();
        assert_eq!(all(&mut framer, b"1\n"), [line("1")]);
    }

    #[test]
    fn lines_and_blocks_are_found() {
        check(b"1.5\n", &[line("1.5")], 0);
        check(b"1.5\r\n-2\n", &[line("1.5"), line("-2")], 0);
        check(b"1\n\r2\n\r", &[line("1"), line("2")], 0);
        check(b"\n\r\n\n", &[], 0);
        check(b"12345678\n", &[line("12345678")], 0);
        check(b"1.", &[], 2);
        check("µA\n".as_bytes(), &[line("µA")], 0);
        check(b"#HFF\n", &[line("#HFF")], 0);
        check(b"#13a\nb\n", &[Ok(Answer::Block(b"a\nb".to_vec()))], 0);
        check(b"#203\0\n\xff\r\n7\n", &[Ok(Answer::Block(b"\0\n\xff".to_vec())), line("7")], 0);
        check(b"#10\n", &[Ok(Answer::Block(Vec::new()))], 0);
        check(b"#15ab", &[], 2);
    }

    #[test]
    fn faults_are_named_and_the_next_line_is_whole() {
        let start = |text: &str| text.to_owned();
        let long = FrameFault::TooLong { longest: 8, start: start("12345678") };
        check(b"1234567890123\n5\n", &[Err(long), line("5")], 0);
        let odd = FrameFault::NotText { start: start("1\\x002") };
        check(b"1\x002\n5\n", &[Err(odd), line("5")], 0);
        let odd = FrameFault::NotText { start: start("\\xff\\xfe") };
        check(b"\xff\xfe\n5\n", &[Err(odd), line("5")], 0);
        let head = FrameFault::BlockHead { start: start("#0") };
        check(b"#0abc\n5\n", &[Err(head), line("5")], 0);
        let head = FrameFault::BlockHead { start: start("#2x") };
        check(b"#2x1\n5\n", &[Err(head), line("5")], 0);
        check(b"#11ab\n5\n", &[Err(FrameFault::BlockEnd), line("5")], 0);
        let long = FrameFault::TooLong { longest: 8, start: start("#210") };
        check(b"#210\n\n\n\n\n\n\n\n\n\n\n5\n", &[Err(long), line("5")], 0);
    }

    #[test]
    fn any_bytes_in_any_pieces_stay_within_the_bound() {
        let mut random = Random(17);
        for _ in 0..2000 {
            let bytes: Vec<u8> = (0..random.below(60)).map(|_| random.byte()).collect();
            let (mut whole, mut parted) = (Framer::new(8), Framer::new(8));
            let expected = all(&mut whole, &bytes);
            let mut rest = &bytes[..];
            let mut found = Vec::new();
            while !rest.is_empty() {
                let (piece, after) = rest.split_at(1 + random.below(rest.len()));
                found.extend(all(&mut parted, piece));
                assert!(parted.kept.len() <= 8 && parted.kept.capacity() <= 16);
                rest = after;
            }
            assert_eq!(found, expected, "{}", bytes.escape_ascii());
            parted.clear();
            assert_eq!(all(&mut parted, b"1\n"), [line("1")], "{}", bytes.escape_ascii());
        }
    }

    /// Numbers that are the same in each run.
    struct Random(u64);

    impl Random {
        fn below(&mut self, bound: usize) -> usize {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (self.0 >> 33) as usize % bound
        }

        /// Mostly what matters to the framer.
        fn byte(&mut self) -> u8 {
            const OFTEN: &[u8] = b"\n\r#0123\0a.";
            match self.below(4) {
                0 => u8::try_from(self.below(256)).expect("below 256"),
                _ => OFTEN[self.below(OFTEN.len())],
            }
        }
    }
}
