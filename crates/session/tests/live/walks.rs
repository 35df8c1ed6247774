//! Random walks: whatever is said and read, the record alone gives the same state, and the hazard
//! ends only by tool, then ground.

use session::act::Act;
use session::record::SourceNews;
use session::state::{ActKind, State};
use session::{Event, Reading, Session};

use crate::bench::Bench;

/// Numbers by chance, the same for the same seed (xorshift64*; derived from its definition).
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// From 0 to 1.
    pub(crate) fn part(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// One of so many.
    pub(crate) fn of(&mut self, many: usize) -> usize {
        (self.next() % many as u64) as usize
    }

    /// About a bell of width one: the sum of twelve, less six.
    pub(crate) fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.part()).sum::<f64>() - 6.0
    }
}

const NAMES: [&str; 3] = ["A", "B", "C"];

fn any_act(dice: &mut Dice) -> Act {
    let number = ["1", "2", "3", "4"][dice.of(4)].to_owned();
    match ActKind::ALL[dice.of(ActKind::ALL.len())] {
        ActKind::Residual => {
            let volts = [None, Some(0.0123), Some(0.05), Some(0.06), Some(7.5)][dice.of(5)];
            Act::Residual { voltage: volts.map(quantity::Voltage::from_kilovolts) }
        }
        ActKind::Ground => Act::Ground { number, place: Some("near end".to_owned()) },
        ActKind::Lift => Act::Lift { number },
        ActKind::Leave => Act::Leave { number, to: "R. Holder".to_owned() },
        ActKind::Cause => Act::Cause { text: "wet".to_owned() },
        kind => Act::plain(kind).expect("every other kind carries no data"),
    }
}

/// One thing by chance; mostly what is legal, so that the walk gets far.
fn step(bench: &mut Bench, dice: &mut Dice, quiet: bool) {
    let now = bench.now();
    if dice.of(60) == 0 {
        // The program ends at once: what was not given out is gone, the record goes on.
        bench.session = bench.replayed();
        bench.session.resume(["boot-1", "boot-2"][dice.of(2)], now);
        bench.drain();
    }
    match dice.of(if quiet { 14 } else { 20 }) {
        0..=11 => {
            let (name, act) = (0..40)
                .map(|_| (NAMES[dice.of(3)], any_act(dice)))
                .find(|(name, act)| bench.session.missing(now, name, act).is_empty())
                .unwrap_or((NAMES[dice.of(3)], any_act(dice)));
            let _ = bench.session.handle_act(now, Some("R. Tester"), Some(name), act);
        }
        12 => {
            let (name, act) = (NAMES[dice.of(3)], any_act(dice));
            bench.session.handle_time(now);
            let legal = bench.session.missing(now, name, &act).is_empty();
            let before = bench.bytes();
            let answer = bench.session.handle_act(now, None, Some(name), act.clone());
            if answer.is_err() {
                assert!(!legal, "{act:?} of {name} was legal and is refused: {answer:?}");
                assert_eq!(before, bench.bytes(), "a refusal changes nothing: {act:?}");
            }
        }
        13 => match dice.of(4) {
            0 => bench.wait(700.0),
            1 => bench.wait(1300.0),
            2 => bench.t += 8.0,
            _ => {
                let _ = bench.session.handle_close(now, None);
            }
        },
        14 => {
            let voltage = Some(quantity::Voltage::from_kilovolts(dice.part() * 33.0));
            let reading = Reading { voltage, ..Reading::default() };
            let _ = bench.session.handle_typed(now, None, Some(NAMES[dice.of(3)]), reading);
        }
        15 => {
            let _ = bench.session.handle_withdraw(now, None, Some(NAMES[dice.of(3)]));
        }
        16 => {
            let (lost, why) = (dice.of(2) == 0, "unplugged".to_owned());
            let back = SourceNews::Back { gap: quantity::Time::from_seconds(2.5) };
            bench.session.handle_source(now, if lost { SourceNews::Lost { why } } else { back });
        }
        _ => {
            let level = [0.0, 0.3, 5.0, 10.0, 20.0, 30.0][dice.of(6)];
            for _ in 0..=dice.of(8) {
                bench.t += 0.37;
                bench.meter(level * (1.0 + 0.01 * dice.bell()), dice.part());
            }
        }
    }
    bench.t += dice.part() * 2.0;
    bench.drain();
}

/// Reads the events back one by one and minds the hazard; gives the state at the end as bytes.
fn replay_minding_the_hazard(bench: &Bench, seed: u64) -> String {
    let mut session = Session::replaying(&bench.head);
    let mut before = session.view(bench.now());
    for entry in &bench.events {
        let text = serde_json::to_string(entry).expect("an event is plain");
        let read = serde_json::from_str(&text).expect("and is read again");
        assert_eq!(&read, entry, "seed {seed}: an event is the same once written: {text}");
        session.replay(&read).unwrap_or_else(|error| panic!("seed {seed}: {error}"));
        let after = session.view(bench.now());
        for (before, after) in before.conductors.iter().zip(&after.conductors) {
            if before.hazardous && !after.hazardous {
                let ground = matches!(&entry.what, Event::Did { act: Act::Ground { .. }, .. });
                let released = after.state == State::Released && before.state == State::Lifted;
                assert!(
                    released || (ground && before.state == State::Discharged),
                    "seed {seed}: the hazard of {} ended by {text}",
                    before.name
                );
            }
        }
        before = after;
        if let Event::Did { told, breaches, .. } = &entry.what {
            let seen = *told == session::record::Told::Seen;
            assert!(seen || breaches.is_empty(), "seed {seed}: said and broken: {text}");
        }
    }
    serde_json::to_string(session.folded()).expect("the state is plain")
}

#[test]
fn live_and_replayed_are_the_same() {
    let mut reached = [0usize; 13];
    let mut events = 0;
    for seed in 0..2000 {
        let mut dice = Dice::new(seed);
        let mut bench = Bench::new(&NAMES);
        let quiet = seed % 3 != 0;
        for number in 1..=3 {
            let line = format!("@{} ground {number}", NAMES[number - 1]);
            bench.say(&line).expect("a ground may be put on at the start");
        }
        for _ in 0..90 {
            step(&mut bench, &mut dice, quiet);
            for name in NAMES {
                let state = bench.session.state(name).expect("it is of the plan");
                reached[state as usize] += 1;
            }
        }
        bench.session.flush(bench.now());
        bench.drain();
        events += bench.events.len();
        assert_eq!(bench.bytes(), replay_minding_the_hazard(&bench, seed), "seed {seed}");
    }
    assert!(events > 50_000, "the walks went somewhere: {events} events");
    for state in State::ALL {
        assert!(reached[*state as usize] > 0, "no walk came to {state}: {reached:?}");
    }
}
