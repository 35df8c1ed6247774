//! The adviser from outside: every state it can be asked in, and a record taken up again.

use advise::{Advice, Adviser, Speaker, Strength, Taken};
use jiff::{SignedDuration, Timestamp};
use physics::absorption::PowerLaw;
use physics::course::{ExpectedObject, current_at};
use physics::transient::Leg;
use plan::measured::GivesBack;
use quantity::{Current, Resistance, Time, Voltage, VoltageRate};
use session::act::Act;
use session::live::Metered;
use session::record::{Advised, Head, Now, Told};
use session::{Entry, Event, Kind, RECORD_FORMAT, Session};

fn head() -> Head {
    head_of(include_str!("../../../../docs/examples/cable.toml"))
}

fn head_of(text: &str) -> Head {
    let job = plan::job_file::parse(text).expect("the example is a good job file");
    let plan = plan::plan(&job, &standards::Library::published());
    let format = RECORD_FORMAT.to_owned();
    Head { format, kind: Kind::Test, source: None, job, plan }
}

fn s(seconds: f64) -> Time {
    Time::from_seconds(seconds)
}

fn now(t_s: f64) -> Now {
    let since = SignedDuration::from_secs_f64(t_s);
    Now { monotonic: s(t_s), wall: Timestamp::UNIX_EPOCH + since }
}

/// A record read by meters each second: up to 6.8 kV, and a minute there.
struct Bench {
    session: Session,
    live: Adviser,
    events: Vec<Entry>,
    t_s: f64,
}

impl Bench {
    fn new(head: &Head) -> Self {
        let session = Session::begin(head, "boot", now(0.0));
        Self { session, live: Adviser::new(head), events: Vec::new(), t_s: 0.0 }
    }

    fn read(&mut self, kv: f64, ua: f64) {
        self.t_s += 1.0;
        let (voltage, current) = (Voltage::from_kilovolts(kv), Current::from_microamperes(ua));
        let digit = Some(Current::from_microamperes(0.001));
        let name = self.session.names().nth(self.session.focus()).expect("it has one").to_owned();
        let taken = Taken {
            voltage: Some(voltage),
            current: Some(current),
            current_half_digit: digit,
            ..Taken::default()
        };
        self.live.metered(&name, s(self.t_s), taken);
        let metered = Metered {
            voltage: Some(voltage),
            current: Some(current),
            current_half_digit: digit,
            ..Metered::default()
        };
        self.session.handle_metered(now(self.t_s), metered);
        self.settle();
    }

    /// The same of needles whose voltage is read in such digits.
    fn read_coarse(&mut self, kv: f64, ua: f64, digit_kv: f64) {
        self.t_s += 1.0;
        let half = Some(Voltage::from_kilovolts(0.5 * digit_kv));
        let voltage = Some(Voltage::from_kilovolts((kv / digit_kv).floor() * digit_kv));
        let current = Some(Current::from_microamperes(ua));
        let name = self.name();
        let taken = Taken { voltage, current, voltage_half_digit: half, ..Taken::default() };
        self.live.metered(&name, s(self.t_s), taken);
        let metered = Metered { voltage, current, voltage_half_digit: half, ..Metered::default() };
        self.session.handle_metered(now(self.t_s), metered);
        self.settle();
    }

    fn settle(&mut self) {
        while let Some(entry) = self.session.poll_event() {
            self.live.event(&entry);
            self.events.push(entry);
        }
    }

    /// Up, and so long at the level; the current falls as t^−0.8 towards `ua`, times what grows.
    fn up(&mut self, ua: f64, stays: usize, grows: f64) {
        for second in 1..=10 {
            self.read(0.68 * f64::from(second), 100.0);
        }
        for second in 1..=stays {
            let age = second as f64;
            let grown = (age * grows).exp();
            self.read(6.8, ua * (grown + 3.0 * age.powf(-0.8)));
        }
        self.session.flush(now(self.t_s));
        self.settle();
    }

    fn name(&self) -> String {
        self.session.names().next().expect("the example has conductors").to_owned()
    }

    fn advice(&self, adviser: &Adviser) -> Advice {
        let name = self.name();
        let zero = adviser.energised_at(&name).expect("voltage is on");
        adviser.at(&name, s(self.t_s) - zero)
    }
}

#[test]
fn before_any_reading_it_carries_on_and_says_so() {
    let head = head();
    let adviser = Adviser::new(&head);
    let name = &head.plan.conductors[0];
    let advice = adviser.at(name, Time::ZERO);
    assert_eq!((advice.strength, advice.reason.key()), (Strength::CarryOn, "nothing-read"));
    assert_eq!(advice.text(), "Carry on: nothing read yet");
    // A conductor that the plan does not have asks for nothing either.
    assert_eq!(adviser.at("no such", Time::ZERO).reason.key(), "nothing-read");
}

#[test]
fn a_record_taken_up_again_asks_for_the_same() {
    let head = head();
    for (grows, strongest) in [(0.0, Strength::Watch), (0.01, Strength::ComeDown)] {
        let mut bench = Bench::new(&head);
        bench.up(1.0, 240, grows);
        let mut again = Adviser::new(&head);
        bench.events.iter().for_each(|entry| again.replay(entry));
        let (live, replayed) = (bench.advice(&bench.live), bench.advice(&again));
        assert_eq!(live.reason.key(), replayed.reason.key());
        assert_eq!(live.text(), replayed.text());
        assert!(live.strength <= strongest, "{}", live.text());
        if grows > 0.0 {
            assert_eq!(live.strength, strongest, "{}", live.text());
            assert_eq!(live.reason.key(), "rising");
        }
        let (one, other) = (live.band.expect("a band"), replayed.band.expect("a band"));
        assert!((one.mid / other.mid - 1.0).abs() < 1e-3, "{one:?} {other:?}");
    }
}

#[test]
fn what_meters_cannot_tell_is_named() {
    let head = head();
    let mut bench = Bench::new(&head);
    bench.up(1.0, 60, 0.0);
    let name = bench.name();
    let key = |advice: &Advice| {
        let others = advice.others.iter().map(advise::Reason::key);
        others.chain([advice.reason.key()]).collect::<Vec<_>>().join(" ")
    };
    let since = s(bench.t_s) - bench.live.energised_at(&name).expect("voltage is on");
    // Silent for a minute.
    let late = bench.live.at(&name, since + s(60.0));
    assert!(key(&late).contains("late"), "{}", key(&late));
    // Over range: the value is missing, not guessed.
    let mut over = bench.live.clone();
    over.reading(&name, &Taken { at: since + s(1.0), overload: true, ..Taken::default() });
    let advice = over.at(&name, since + s(1.0));
    assert!(key(&advice).contains("over-range"), "{}", key(&advice));
    // Far above the highest level: down at once, whatever else.
    let mut high = bench.live.clone();
    let voltage = Some(Voltage::from_kilovolts(90.0));
    high.reading(&name, &Taken { at: since + s(1.0), voltage, ..Taken::default() });
    let advice = high.at(&name, since + s(1.0));
    assert_eq!((advice.strength, advice.reason.key()), (Strength::ComeDown, "above-level"));
    // Leads and set alone: no object is advised on.
    let mut blank = bench.live.clone();
    blank.reading(&name, &Taken { at: since + s(1.0), blank: true, ..Taken::default() });
    assert!(key(&blank.at(&name, since + s(1.0))).contains("blank"));
}

fn says(advice: &Advice, key: &str) -> bool {
    advice.others.iter().chain([&advice.reason]).any(|reason| reason.key() == key)
}

/// Derived: 2.25 µF that rise by 13 V/s take 29 µA, and needles of 0.3 kV a digit stand for 23 s
/// between two of them. That current charges and is no leakage: nothing trips at the first level.
#[test]
fn charging_on_the_way_to_the_first_level_forecasts_no_trip() {
    let head = head_of(include_str!("../../../browser/tests/jobs/long-cable.toml"));
    let mut bench = Bench::new(&head);
    for second in 0..1500 {
        let kv = 0.013 * f64::from(second);
        bench.read_coarse(kv, kv.mul_add(0.4, 30.0), 0.3);
        if bench.live.energised_at(&bench.name()).is_some() {
            let advice = bench.advice(&bench.live);
            assert!(!says(&advice, "trip-near"), "{second} s: {}", advice.text());
        }
    }
}

/// Derived: 200 µA at 13 kV and 400 µA at 26 kV are 600 µA at 39 kV, above the trip of 500 µA.
#[test]
fn a_trip_that_the_next_level_would_pass_is_told() {
    let head = head();
    let mut bench = Bench::new(&head);
    for (from, to, ua) in [(0.0, 13.0, 200.0), (13.0, 26.0, 400.0)] {
        for second in 1..=13 {
            bench.read(from + (to - from) * f64::from(second) / 13.0, 160.0 + ua);
        }
        for second in 1..=60 {
            bench.read(to, ua + 5.0 * f64::from(second).powf(-0.8));
        }
    }
    let advice = bench.advice(&bench.live);
    assert_eq!((advice.strength, advice.reason.key()), (Strength::HoldHere, "trip-near"));
}

/// A cable that charges for 26 min takes 29 µA on its way, and 3 µA at the level: what flowed
/// before the voltage stood is no absorption, and nothing comes back of it (derived).
#[test]
fn what_charges_a_long_cable_is_no_absorption() {
    let head = head_of(include_str!("../../../browser/tests/jobs/long-cable.toml"));
    let mut bench = Bench::new(&head);
    for second in 0..2500 {
        let kv = (0.013 * f64::from(second)).min(20.1);
        let standing = kv.mul_add(0.15, 0.02 * f64::from(2500 - second).max(1.0).powf(0.1));
        let ua = if kv < 20.1 { kv.mul_add(0.4, 29.0) } else { standing };
        bench.read_coarse(kv, ua, 0.3);
    }
    let name = bench.name();
    let act = Act::Stop;
    bench.session.handle_act(now(bench.t_s), None, Some(&name), act).expect("it is on");
    bench.settle();
    let planned = head.plan.descent.as_ref().expect("a way down");
    if let Some((_, told)) = bench.live.gives_back(&name) {
        assert!(told.rebound < planned.rebound * 3.0, "{told:?}");
        assert!(told.ground < planned.ground * 3.0, "{told:?}");
    }
}

/// Once the voltage is brought down, its own test tells what comes back: once, and by readings.
#[test]
fn what_comes_back_is_told_once_the_voltage_is_brought_down() {
    let head = head();
    let mut bench = Bench::new(&head);
    let object = ExpectedObject {
        capacitance: head.plan.capacitance.expect("it is known"),
        insulation: Resistance::from_megohms(20_000.0),
        absorption: PowerLaw { strength: 0.002, exponent: 0.85 },
    };
    let leg = Leg {
        to: Voltage::from_kilovolts(13.0),
        rise: Some(VoltageRate::from_kilovolts_per_second(1.0)),
        dwell: s(900.0),
    };
    for second in 1..=900_i32 {
        let t_s = f64::from(second);
        let amps = current_at(&object, std::slice::from_ref(&leg), s(t_s)).amperes();
        bench.read(t_s.min(13.0), amps * 1e6);
    }
    let name = bench.name();
    assert_eq!(bench.live.gives_back(&name), None, "the voltage is on");
    bench.session.handle_act(now(bench.t_s), None, Some(&name), Act::Stop).expect("it is on");
    bench.settle();
    let (at, told) = bench.live.gives_back(&name).expect("readings told of it");
    assert!((told.at_voltage - at).seconds().abs() < 1e-9);
    let object = told.object.expect("the fit is better than the plan");
    // Source: the closed sums of `physics::course`, which are held against a worked staircase
    // there: the readings were made by 0.002 and 0.85.
    let (k, n) = (object.absorption_strength, object.absorption_exponent);
    assert!(n.low < 0.85 && n.high > 0.85, "{n:?}");
    assert!(k.low < 0.002 && k.high > 0.002 && k.high < 0.01, "{k:?}");
    let planned = head.plan.descent.as_ref().expect("a way down").ground;
    assert!(told.ground >= planned);
    assert_eq!(bench.live.gives_back(&name), None, "once");
    // The advice then rests on it.
    let phase = name.clone();
    let what = Event::GivesBack { phase, since_energised: at, told };
    let entry = Entry { what, ..bench.events[bench.events.len() - 1].clone() };
    bench.live.event(&entry);
    let residual = bench.live.at(&name, at).residual.expect("it is under voltage");
    assert!(residual.high >= Voltage::from_kilovolts(13.0));
}

#[test]
fn urgent_words_come_at_once_and_milder_ones_wait() {
    let head = head();
    let advice = |strength| Advice { strength, ..Adviser::new(&head).at("A", Time::ZERO) };
    let mut speaker = Speaker::new();
    let mut say = |at: f64, strength| -> Option<Advised> {
        speaker.say(s(at), "A", Some(s(at)), &advice(strength))
    };
    // Nothing is said of a test that goes as planned from the start.
    assert!(say(0.0, Strength::CarryOn).is_none());
    assert!(say(1.0, Strength::Watch).is_some());
    assert!(say(1.1, Strength::ComeDown).is_some());
    assert!(say(1.2, Strength::ComeDown).is_none());
    assert!(say(3.0, Strength::CarryOn).is_none());
    assert!(say(7.0, Strength::CarryOn).is_some());
}

#[test]
fn no_line_calls_an_object_safe() {
    let head = head();
    let mut bench = Bench::new(&head);
    bench.up(1.0, 30, 0.05);
    let advice = bench.advice(&bench.live);
    let lines = advice.others.iter().map(ToString::to_string).chain([advice.text()]);
    for line in lines {
        assert!(!line.to_lowercase().contains("safe"), "{line}");
        assert!(line.len() < 120, "{line}");
    }
    assert!(bench.events.iter().any(|entry| matches!(entry.what, Event::Metered(_))));
}

/// Derived: a meter of current whose leads are changed over reads the same with the other sign, so
/// that what is advised is the same, and the sign is told beside it.
#[test]
fn a_current_against_the_voltage_is_advised_on_by_its_size() {
    let head = head();
    for (grows, strongest) in [(0.0, Strength::Watch), (0.01, Strength::ComeDown)] {
        let mut bench = Bench::new(&head);
        for second in 1..=10 {
            bench.read(0.68 * f64::from(second), -100.0);
        }
        assert!(bench.live.reads_against(&bench.name()), "at once");
        for second in 1..=240 {
            let age = f64::from(second);
            bench.read(6.8, -((age * grows).exp() + 3.0 * age.powf(-0.8)));
        }
        bench.session.flush(now(bench.t_s));
        bench.settle();
        let advice = bench.advice(&bench.live);
        assert_eq!(advice.strength, strongest, "{}", advice.text());
        assert!(says(&advice, "against-the-voltage"), "{}", advice.text());
        if grows > 0.0 {
            assert_eq!(advice.reason.key(), "rising");
        }
        let mut again = Adviser::new(&head);
        bench.events.iter().for_each(|entry| again.replay(entry));
        assert_eq!(bench.advice(&again).text(), advice.text());
    }
}

/// What is not seen may run away: told after some seconds, then brought down. The other value goes
/// on all the while. Times: common practice, no source.
#[test]
fn one_of_two_values_that_is_not_read_is_told() {
    let head = head();
    let mut bench = Bench::new(&head);
    bench.up(1.0, 60, 0.0);
    let name = bench.name();
    let since = s(bench.t_s) - bench.live.energised_at(&name).expect("voltage is on");
    let check = |voltage: Option<f64>, current: Option<f64>, key: &str| {
        let mut live = bench.live.clone();
        for second in 1..=70 {
            let at = since + s(f64::from(second));
            let voltage = voltage.map(Voltage::from_kilovolts);
            let current = current.map(Current::from_microamperes);
            live.reading(&name, &Taken { at, voltage, current, ..Taken::default() });
            let advice = live.at(&name, at);
            let expected = match second {
                ..=8 => Strength::Watch,
                9..=60 => Strength::HoldHere,
                _ => Strength::ComeDown,
            };
            let told = advice.strength >= Strength::HoldHere && advice.reason.key() == key;
            assert_eq!(told, second > 8, "{second} s: {}", advice.text());
            assert!(advice.strength <= expected.max(Strength::Watch), "{second} s");
            assert!(second <= 60 || advice.strength == Strength::ComeDown, "{second} s");
        }
        // Read again, all is as it was.
        let at = since + s(71.0);
        let (voltage, current) = (Voltage::from_kilovolts(6.8), Current::from_microamperes(1.1));
        let (voltage, current) = (Some(voltage), Some(current));
        live.reading(&name, &Taken { at, voltage, current, ..Taken::default() });
        assert!(!says(&live.at(&name, at), key), "{}", live.at(&name, at).text());
    };
    check(Some(6.8), None, "current-unread");
    check(None, Some(1.1), "voltage-unread");
}

/// Meters that fall silent leave more unseen than one of them does, and are told no more mildly; a
/// hand that is late looks at its needles anyway. Times: common practice, no source.
#[test]
fn meters_that_fall_silent_are_told_as_strongly_as_one_of_them() {
    let head = head();
    let mut bench = Bench::new(&head);
    bench.up(1.0, 60, 0.0);
    let name = bench.name();
    let since = s(bench.t_s) - bench.live.energised_at(&name).expect("voltage is on");
    for second in 1..=70 {
        let advice = bench.live.at(&name, since + s(f64::from(second)));
        let told = (advice.reason.key() == "late").then_some(advice.strength);
        let expected = match second {
            ..=8 => None,
            9..=60 => Some(Strength::HoldHere),
            _ => Some(Strength::ComeDown),
        };
        assert_eq!(told, expected, "{second} s: {}", advice.text());
    }
    let (live, at) = by_hand(&head, &[(6.8, Some(1.2)); 6]);
    let advice = live.at(&name, at + s(300.0));
    assert!(says(&advice, "late") && advice.strength == Strength::Watch, "{}", advice.text());
}

/// A hand at the first level that writes kilovolts and microamperes each half minute, and when it
/// wrote last.
fn by_hand(head: &Head, rows: &[(f64, Option<f64>)]) -> (Adviser, Time) {
    let mut live = Adviser::new(head);
    let name = &head.plan.conductors[0];
    live.event(&happens(Event::Energised { phase: name.clone() }));
    for act in [Act::Rise, Act::Dwell] {
        live.event(&did(name, 1.0, act));
    }
    let mut at = Time::ZERO;
    for (kv, ua) in rows {
        at = at + s(30.0);
        let voltage = Some(Voltage::from_kilovolts(*kv));
        let current = ua.map(Current::from_microamperes);
        live.reading(name, &Taken { at, voltage, current, ..Taken::default() });
    }
    (live, at)
}

fn happens(what: Event) -> Entry {
    Entry { at: None, by: None, what }
}

fn did(name: &str, t_s: f64, act: Act) -> Entry {
    let (phase, since_energised) = (name.to_owned(), Some(s(t_s)));
    let told = Told::Said;
    happens(Event::Did { phase, since_energised, act, told, breaches: Vec::new() })
}

/// A current that a hand leaves out through a hold may run away unseen; a voltage that stands is
/// often not written again. After three of its own intervals, of half a minute each: common
/// practice, no source.
#[test]
fn a_hand_that_leaves_the_current_out_is_told_to_hold() {
    let head = head();
    let name = &head.plan.conductors[0];
    let both = [(6.8, Some(1.2)); 4];
    for more in 1..=20 {
        let alone = vec![(6.8, None); more];
        let (live, at) = by_hand(&head, &[&both[..], &alone[..]].concat());
        let advice = live.at(name, at);
        let told = advice.strength == Strength::HoldHere && says(&advice, "current-unread");
        assert_eq!(told, more > 3, "{more} without a current: {}", advice.text());
        assert!(advice.strength < Strength::ComeDown, "{}", advice.text());
    }
}

/// A slip that is struck takes nothing of a supply that sags: what was held before stays held.
#[test]
fn a_struck_reading_leaves_what_was_held() {
    let head = head();
    let name = &head.plan.conductors[0];
    let kv = head.plan.course[0].level.kilovolts();
    let held = [(kv, Some(10.0)); 3];
    let sags = [(kv * 0.94, Some(12.0)); 2];
    let (mut live, at) = by_hand(&head, &[&held[..], &sags[..]].concat());
    assert!(says(&live.at(name, at), "sagging"), "{}", live.at(name, at).text());
    let slip = at + s(30.0);
    let voltage = Some(Voltage::from_kilovolts(kv * 9.4));
    live.reading(name, &Taken { at: slip, voltage, ..Taken::default() });
    live.event(&happens(Event::Withdrawn { phase: name.clone(), at: slip }));
    assert!(says(&live.at(name, slip), "sagging"), "{}", live.at(name, slip).text());
}

/// What is read on the way up is not held against what stands, also where a struck slip has all
/// readings taken in anew: 20 µA at the level are less than the way took, and more than its start.
#[test]
fn what_was_read_on_the_way_up_is_not_held() {
    let head = head();
    let name = &head.plan.conductors[0];
    let kv = head.plan.course[0].level.kilovolts();
    let mut live = Adviser::new(&head);
    live.event(&happens(Event::Energised { phase: name.clone() }));
    live.event(&did(name, 0.0, Act::Rise));
    let read = |live: &mut Adviser, t_s: f64, kv: f64, ua: f64| {
        let voltage = Some(Voltage::from_kilovolts(kv));
        let current = Some(Current::from_microamperes(ua));
        live.reading(name, &Taken { at: s(t_s), voltage, current, ..Taken::default() });
    };
    read(&mut live, 10.0, kv * 1.02, 5.0);
    live.event(&did(name, 20.0, Act::Dwell));
    read(&mut live, 30.0, kv * 0.99, 20.0);
    read(&mut live, 60.0, kv * 0.99, 20.0);
    read(&mut live, 90.0, kv * 0.99, 200.0);
    live.event(&happens(Event::Withdrawn { phase: name.clone(), at: s(90.0) }));
    assert!(!says(&live.at(name, s(91.0)), "sagging"), "{}", live.at(name, s(91.0)).text());
}

/// A hand that takes a served level down reads less voltage each time before the state says so.
/// What sank and then stands is no hand, though the time was served: the person stays.
#[test]
fn a_voltage_that_goes_on_sinking_after_its_time_is_the_hand() {
    let head = head();
    let step = &head.plan.course[0];
    let (kv, stay) = (step.level.kilovolts(), step.dwell.seconds());
    let (served, early) = (stay + 20.0, stay / 3.0);
    let cases: [(f64, f64, bool); 4] =
        [(early, 0.0, true), (early, 0.01, true), (served, 0.01, false), (served, 0.0, true)];
    for (stays, falls, expected) in cases {
        let mut bench = Bench::new(&head);
        for second in 1..=10 {
            bench.read(kv * f64::from(second) / 10.0, 100.0);
        }
        for second in 1..=stays as u32 {
            bench.read(kv, 1.0 + 3.0 * f64::from(second).powf(-0.8));
        }
        let mut told = false;
        for reading in 0..8 {
            bench.read(kv * falls.mul_add(-f64::from(reading), 0.94), 9.0);
            told |= says(&bench.advice(&bench.live), "sagging");
        }
        assert_eq!(told, expected, "{stays} s at the level, {stay} s asked, {falls} a second");
    }
}

/// What a test of a quarter of an hour at 13 kV tells, read by hand every 20 s, of an object that
/// absorbs so many times what the plan takes for typical. Source: the closed sums of
/// `physics::course`, which are held against a worked staircase there.
fn absorbs(head: &Head, times: f64) -> Option<GivesBack> {
    let model = head.plan.model.as_ref().expect("it is modelled");
    let strength = model.absorption_strength.mid * times;
    let object = ExpectedObject {
        capacitance: head.plan.capacitance.expect("it is known"),
        insulation: Resistance::from_megohms(20_000.0),
        absorption: PowerLaw { strength, exponent: model.absorption_exponent.mid },
    };
    let rise = Some(VoltageRate::from_kilovolts_per_second(1.3));
    let leg = Leg { to: Voltage::from_kilovolts(13.0), rise, dwell: s(900.0) };
    let amps = |t_s: f64| current_at(&object, std::slice::from_ref(&leg), s(t_s));
    told_by_hand(head, 13.0, (20.0, 900.0), amps)
}

/// A hand that reads a current at one level so often, until then, and brings it down.
fn told_by_hand(
    head: &Head,
    kv: f64,
    (every, until): (f64, f64),
    current: impl Fn(f64) -> Current,
) -> Option<GivesBack> {
    let name = &head.plan.conductors[0];
    let mut live = Adviser::new(head);
    live.event(&happens(Event::Energised { phase: name.clone() }));
    live.event(&did(name, 0.0, Act::Rise));
    live.event(&did(name, 10.0, Act::Dwell));
    let times = (1..).map(|row| 10.0 + every * f64::from(row));
    for t_s in times.take_while(|t_s| *t_s < until) {
        let (voltage, current) = (Some(Voltage::from_kilovolts(kv)), Some(current(t_s)));
        live.reading(name, &Taken { at: s(t_s), voltage, current, ..Taken::default() });
    }
    live.event(&did(name, until + 10.0, Act::Stop));
    live.gives_back(name).map(|(_, told)| told)
}

/// A hand has no sixty readings. Much slow charge that its few show lengthens the ground all the
/// same; less than was planned with they do not show, and a leakage that drifts by a division in
/// three minutes is no charge that comes back for hours. By which factor: common practice, no
/// source.
#[test]
fn few_readings_of_a_hand_lengthen_a_ground_and_not_without_bound() {
    let cable = head();
    let planned = cable.plan.descent.as_ref().expect("a way down").ground;
    let told = absorbs(&cable, 50.0).expect("it absorbs much");
    assert!(told.object.is_some() && told.ground > planned, "{told:?}");
    assert!(told.ground <= planned * 3.0, "{told:?}");
    assert_eq!(absorbs(&cable, 0.1), None, "no less is taken for what may be left");
    let glove = head_of(include_str!("../../../browser/tests/jobs/glove.toml"));
    let kv = glove.plan.course[0].level.kilovolts();
    let drifts = |by: f64| {
        let current = |t_s: f64| Current::from_microamperes(2.0 - by * (t_s / 10.0).ln());
        told_by_hand(&glove, kv, (10.0, 190.0), current).expect("it stood longer than planned")
    };
    let (little, division) = (drifts(0.02), drifts(0.1));
    assert!(little.object.is_some() && little.ground > division.ground, "{little:?}");
    assert_eq!(division.object, None, "{division:?}");
}
