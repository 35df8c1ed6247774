//! Spoils the examples, one seed at a time, and asks the program to read them: each must be read,
//! or end with status 2 and a message that names the file. Nothing else will do.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use super::{Asked, Outcome};
use crate::program::{self, EXAMPLES};

/// One way to have a file read: which file, and the words, `FILE` standing for the spoiled copy.
const WAYS: &[(&str, &[&str])] = &[
    ("cable.toml", &["plan", "FILE", "--json"]),
    ("case.toml", &["simulate", "FILE", "--json"]),
    ("cable-readings.csv", &["judge", "docs/examples/cable.toml", "--readings", "FILE", "--json"]),
];

pub(super) fn inputs(root: &Path, asked: Asked) -> Option<Outcome> {
    let program = program::build(root)?;
    match spoil_all(root, &program, asked) {
        Ok(outcome) => Some(outcome),
        Err(error) => {
            eprintln!("the run broke off: {error}");
            None
        }
    }
}

fn spoil_all(root: &Path, program: &Path, asked: Asked) -> std::io::Result<Outcome> {
    std::env::set_current_dir(root)?;
    let folder: PathBuf = std::env::temp_dir().join(format!("spoiled-{}", std::process::id()));
    fs::create_dir_all(&folder)?;
    let (mut read, mut refused, mut broken, mut longest) = (0, 0, 0, 0.0_f64);
    for seed in asked.seed..asked.seed + asked.count {
        let mut chance = Chance(seed);
        let (name, words) = WAYS[chance.below(WAYS.len())];
        let spoiled = folder.join(name);
        fs::write(&spoiled, spoil(fs::read(Path::new(EXAMPLES).join(name))?, &mut chance))?;
        let path = spoiled.to_string_lossy();
        let words: Vec<&str> =
            words.iter().map(|word| if *word == "FILE" { &*path } else { *word }).collect();
        let started = Instant::now();
        let output = program::run(program, &words)?;
        longest = longest.max(started.elapsed().as_secs_f64() * 1e3);
        match how(output.status.code(), &String::from_utf8_lossy(&output.stderr), name) {
            How::Read => read += 1,
            How::Refused => refused += 1,
            How::Broken => {
                broken += 1;
                println!("again: cargo xtask long inputs --seed {seed} --count 1");
            }
        }
    }
    fs::remove_dir_all(&folder)?;
    println!("{read} read, {refused} refused, {broken} broken");
    Ok(Outcome {
        well: broken == 0,
        counts: [("read", read), ("refused", refused), ("broken", broken)]
            .map(|(name, count)| (name.to_owned(), count))
            .into(),
        figures: vec![("longest_ms".to_owned(), longest)],
    })
}

#[derive(Debug, PartialEq, Eq)]
enum How {
    Read,
    Refused,
    Broken,
}

fn how(status: Option<i32>, said: &str, name: &str) -> How {
    match status {
        Some(0) => How::Read,
        Some(2) if said.contains(name) => How::Refused,
        _ => How::Broken,
    }
}

/// Numbers from a seed (splitmix64; constants as published with it, from memory).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, bound: usize) -> usize {
        let bound = u64::try_from(bound).expect("an index fits in 64 bits");
        usize::try_from(self.next() % bound).expect("smaller than an index")
    }
}

/// What fingers, spreadsheets and cables do to a file.
const PIECES: &[&str] = &[
    "-",
    "0",
    "9",
    ".",
    ",",
    ";",
    "\"",
    "'",
    "#",
    "[",
    "]",
    "=",
    "\n",
    "\r\n",
    "\t",
    "\0",
    "\u{feff}",
    "é",
    "NaN",
    "inf",
    "9.9E37",
    "1e400",
    "kV",
    "true",
    "2026-02-30",
];

fn spoil(mut bytes: Vec<u8>, chance: &mut Chance) -> Vec<u8> {
    for _ in 0..=chance.below(2) {
        let at = chance.below(bytes.len().max(1)).min(bytes.len());
        let end = (at + chance.below(40)).min(bytes.len());
        match chance.below(6) {
            0 => drop(bytes.drain(at..end)),
            1 => {
                let copy = bytes[at..end].to_vec();
                drop(bytes.splice(at..at, copy));
            }
            2 if at < bytes.len() => bytes[at] = chance.next().to_le_bytes()[0],
            3 | 4 => mistype(&mut bytes, at, chance),
            _ => {
                let piece = PIECES[chance.below(PIECES.len())];
                drop(bytes.splice(at..at, piece.bytes()));
            }
        }
    }
    bytes
}

/// Another digit for the next one: the file stays well formed and says something else.
fn mistype(bytes: &mut [u8], from: usize, chance: &mut Chance) {
    if let Some(digit) = bytes.iter_mut().skip(from).find(|byte| byte.is_ascii_digit()) {
        *digit = b"0123456789"[chance.below(10)];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_spoils_the_same_way_again() {
        let text = b"[asset]\nid = \"a\"\n".to_vec();
        let spoiled = |seed| spoil(text.clone(), &mut Chance(seed));
        assert!((1..50).all(|seed| spoiled(seed) == spoiled(seed)));
        assert!((1..50).filter(|seed| spoiled(*seed) != text).count() > 40);
        assert!((1..200).all(|seed| spoil(Vec::new(), &mut Chance(seed)).len() < 200));
    }

    #[test]
    fn only_reading_and_refusing_by_name_will_do() {
        let cases = [
            (Some(0), "", How::Read),
            (Some(2), "case.toml:3: write a number", How::Refused),
            (Some(2), "write a number", How::Broken),
            (Some(101), "case.toml panicked", How::Broken),
            (None, "", How::Broken),
        ];
        for (status, said, expected) in cases {
            assert_eq!(how(status, said, "case.toml"), expected);
        }
    }
}
