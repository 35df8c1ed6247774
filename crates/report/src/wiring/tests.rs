//! The drawing is followed with a finger: what touches what is read from its lines, and must come
//! to the circuit that was asked for. What is true of a circuit is derived from Kirchhoff's
//! current law: a meter reads what has no way past it.

use plan::course::{Guard, Link, MeterAt};
use plan::job::{LowSide, Polarity};

use super::circuit::{Body, Circuit};
use super::{draw, words};

type Spot = (f64, f64);

const BODIES: [Body; 10] = [
    Body::Cable,
    Body::Oversheath,
    Body::Loop,
    Body::Bus,
    Body::Gear,
    Body::Winding,
    Body::Capacitor,
    Body::Water,
    Body::Sheet,
    Body::Post,
];

fn plain() -> Circuit {
    Circuit {
        polarity: Polarity::Negative,
        low_side: LowSide::Grounded,
        link: Link::ReturnToGround,
        meter_at: MeterAt::Return,
        guard: Guard::None,
        divider: false,
        shunted: false,
        body: Body::Cable,
        others: true,
    }
}

/// Every connection that can be asked for.
fn all() -> Vec<Circuit> {
    let mut all = vec![];
    for body in BODIES {
        for low_side in [LowSide::Grounded, LowSide::Isolated] {
            for link in [Link::GuardToGround, Link::ReturnToGround, Link::None] {
                for meter_at in [MeterAt::Return, MeterAt::HighVoltageEnd] {
                    for guard in [Guard::None, Guard::NearEnd, Guard::BothEnds] {
                        for (divider, shunted) in
                            [(false, false), (true, false), (false, true), (true, true)]
                        {
                            let others = matches!(
                                body,
                                Body::Cable
                                    | Body::Oversheath
                                    | Body::Bus
                                    | Body::Gear
                                    | Body::Winding
                            );
                            let one = Circuit {
                                body,
                                low_side,
                                link,
                                meter_at,
                                guard,
                                divider,
                                shunted,
                                others,
                                ..plain()
                            };
                            all.push(one);
                        }
                    }
                }
            }
        }
    }
    all
}

/// One element of the drawing.
fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let from = element.find(&format!(" {name}=\""))? + name.len() + 3;
    element[from..].split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).and_then(|text| text.parse().ok()).expect("a number")
}

/// The points of a path; an arc goes to its end.
fn points(path: &str) -> Vec<Spot> {
    let closed = path.ends_with('Z');
    let spaced = path.replace(['M', 'L'], " ").replace('A', " A ").replace('Z', "");
    let mut words = spaced.split_whitespace();
    let mut points = vec![];
    while let Some(word) = words.next() {
        let x = if word == "A" { words.nth(5) } else { Some(word) };
        let x = x.and_then(|x| x.parse().ok()).expect("x");
        points.push((x, words.next().and_then(|y| y.parse().ok()).expect("y")));
    }
    if closed {
        points.push(points[0]);
    }
    points
}

/// Every line of these classes, as points.
fn lines(svg: &str, classes: &[&str]) -> Vec<Vec<Spot>> {
    svg.lines()
        .filter(|line| line.starts_with("<path"))
        .filter(|line| attribute(line, "class").is_some_and(|class| classes.contains(&class)))
        .map(|line| points(attribute(line, "d").expect("a path has points")))
        .collect()
}

fn lies_on((x, y): Spot, (a, b): (Spot, Spot)) -> bool {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx.hypot(dy);
    let across = (dx * (y - a.1) - dy * (x - a.0)).abs() / length.max(1e-9);
    let along = (dx * (x - a.0) + dy * (y - a.1)) / length.max(1e-9);
    across < 0.3 && along > -0.3 && along < length + 0.3
}

fn touches(one: &[Spot], two: &[Spot]) -> bool {
    let on = |spots: &[Spot], line: &[Spot]| {
        spots.iter().any(|spot| line.windows(2).any(|pair| lies_on(*spot, (pair[0], pair[1]))))
    };
    on(one, two) || on(two, one)
}

/// What hangs together, without the meters and the source.
struct Nets {
    lines: Vec<Vec<Spot>>,
    net: Vec<usize>,
}

impl Nets {
    fn of(svg: &str) -> Self {
        let lines = lines(svg, &["wire", "link", "ground", "guard", "screen", "metal"]);
        let mut net: Vec<usize> = (0..lines.len()).collect();
        for one in 0..lines.len() {
            for two in 0..one {
                if touches(&lines[one], &lines[two]) {
                    let (from, to) = (net[one], net[two]);
                    net.iter_mut().filter(|net| **net == from).for_each(|net| *net = to);
                }
            }
        }
        Self { lines, net }
    }

    /// What a place hangs together with.
    fn at(&self, spot: Spot) -> usize {
        let here = self
            .lines
            .iter()
            .position(|line| line.windows(2).any(|pair| lies_on(spot, (pair[0], pair[1]))));
        self.net[here.unwrap_or_else(|| panic!("nothing is drawn at {spot:?}"))]
    }
}

/// Places that every drawing has.
const SOURCE_HIGH: Spot = (24.0, 79.0);
const SOURCE_LOW: Spot = (24.0, 101.0);
const CONDUCTOR: Spot = (250.0, 62.0);
const SOLID_GROUND: Spot = (196.0, 230.0);
const RETURN_POST: Spot = (118.0, 188.0);
const GUARD_POST: Spot = (118.0, 116.0);

fn low(body: Body) -> Spot {
    match body {
        Body::Cable | Body::Oversheath | Body::Loop | Body::Bus | Body::Gear | Body::Winding => {
            (284.0, 75.0)
        }
        _ => (312.0, 82.0),
    }
}

#[test]
fn the_link_ties_what_it_says_and_nothing_else() {
    for circuit in all() {
        let nets = Nets::of(&draw::draw(&circuit, "x"));
        let ground = nets.at(SOLID_GROUND);
        let grounded = |spot: Spot| nets.at(spot) == ground;
        assert!(grounded((118.0, 152.0)), "{circuit:?}");
        let low_side = circuit.low_side == LowSide::Grounded;
        assert_eq!(grounded(low(circuit.body)), low_side || return_is_grounded(&circuit));
        assert_eq!(grounded(RETURN_POST), return_is_grounded(&circuit), "{circuit:?}");
        let guard = circuit.link == Link::GuardToGround || has_no_meter(&circuit);
        assert_eq!(grounded(GUARD_POST), guard, "{circuit:?}");
        if circuit.others {
            assert!(grounded((352.0, 160.0)), "{circuit:?}");
        }
        assert_ne!(nets.at(CONDUCTOR), ground, "{circuit:?}");
        assert_ne!(nets.at(SOURCE_HIGH), nets.at(SOURCE_LOW), "{circuit:?}");
    }
}

/// With the meter at high voltage the return is one wire with the source's low side.
fn has_no_meter(circuit: &Circuit) -> bool {
    circuit.meter_at == MeterAt::HighVoltageEnd && circuit.link == Link::ReturnToGround
}

fn return_is_grounded(circuit: &Circuit) -> bool {
    circuit.link == Link::ReturnToGround
        || (circuit.meter_at == MeterAt::HighVoltageEnd && circuit.link == Link::GuardToGround)
}

/// In the return, the meter reads the leads too where ground has no other way to the source; at
/// high voltage it reads what lies behind it, and the screen of the lead lies before it.
#[test]
fn the_meter_reads_what_has_no_way_past_it() {
    for circuit in all() {
        let nets = Nets::of(&draw::draw(&circuit, "x"));
        let (source, ground) = (nets.at(SOURCE_LOW), nets.at(SOLID_GROUND));
        match circuit.meter_at {
            MeterAt::Return => {
                assert_eq!(nets.at(CONDUCTOR), nets.at(SOURCE_HIGH), "{circuit:?}");
                assert_ne!(nets.at(RETURN_POST), source, "the meter is bridged: {circuit:?}");
                let reads_leads = ground != source && ground == nets.at(RETURN_POST);
                let tied = circuit.link == Link::ReturnToGround;
                assert_eq!(reads_leads, tied, "{circuit:?}");
                if circuit.low_side == LowSide::Isolated && !tied {
                    assert_eq!(nets.at(low(circuit.body)), nets.at(RETURN_POST), "{circuit:?}");
                }
            }
            MeterAt::HighVoltageEnd => {
                assert_ne!(nets.at(CONDUCTOR), nets.at(SOURCE_HIGH), "{circuit:?}");
                assert_eq!(nets.at((200.0, 55.0)), nets.at(SOURCE_HIGH), "{circuit:?}");
                assert_eq!(nets.at(RETURN_POST), source, "{circuit:?}");
            }
        }
    }
}

/// A guard ring sits on the source's side of the meter, near the voltage of what it guards (a
/// guard circuit as textbooks draw it).
#[test]
fn rings_are_on_the_sources_side_of_the_meter() {
    for circuit in all() {
        let svg = draw::draw(&circuit, "x");
        let nets = Nets::of(&svg);
        let source = match circuit.meter_at {
            MeterAt::Return => nets.at(SOURCE_LOW),
            MeterAt::HighVoltageEnd => nets.at(SOURCE_HIGH),
        };
        let rings = svg.lines().filter(|line| line.contains("class=\"ring\""));
        let rings: Vec<&str> = rings.filter(|line| number(line, "rx") > 3.5).collect();
        let expected = match circuit.guard {
            Guard::None => 0,
            Guard::NearEnd => 1,
            Guard::BothEnds => 2,
        };
        assert_eq!(rings.len(), expected, "{circuit:?}");
        for ring in rings {
            let (x, y) = (number(ring, "cx"), number(ring, "cy"));
            let (rx, ry) = (number(ring, "rx"), number(ring, "ry"));
            let rim = [(x + rx, y), (x - rx, y), (x, y + ry), (x, y - ry)];
            let guarded = lines(&svg, &["guard"]);
            let ends: Vec<Spot> =
                guarded.iter().flat_map(|line| [line[0], line[line.len() - 1]]).collect();
            let tied = rim
                .iter()
                .find(|spot| ends.iter().any(|end| (end.0 - spot.0).hypot(end.1 - spot.1) < 0.3));
            let tied = tied.unwrap_or_else(|| panic!("a ring hangs on nothing: {circuit:?}"));
            assert_eq!(nets.at(*tied), source, "{circuit:?}");
        }
    }
}

/// Half an em and a bit a letter is what the letters of the paper take (measured on them).
fn boxes(svg: &str) -> Vec<(String, Spot, Spot)> {
    let texts = svg.lines().filter(|line| line.starts_with("<text"));
    texts
        .map(|line| {
            let words = line.split('>').nth(1).and_then(|rest| rest.split('<').next());
            let words = words.unwrap_or_default().to_owned();
            let each = if line.contains("bold") { 0.66 } else { 0.60 };
            let wide = words.chars().count() as f64 * each * draw::LETTERS;
            let (x, y) = (number(line, "x"), number(line, "y"));
            let left = match attribute(line, "text-anchor") {
                Some("end") => x - wide,
                Some("middle") => x - wide / 2.0,
                _ => x,
            };
            (words, (left, y - 0.74 * draw::LETTERS), (left + wide, y + 0.1 * draw::LETTERS))
        })
        .collect()
}

fn overlap(one: &(String, Spot, Spot), two: &(String, Spot, Spot)) -> bool {
    one.1.0 < two.2.0 && two.1.0 < one.2.0 && one.1.1 < two.2.1 && two.1.1 < one.2.1
}

/// Whether an upright or level stretch goes through a box.
fn struck((_, low, high): &(String, Spot, Spot), a: Spot, b: Spot) -> bool {
    let (left, right) = (a.0.min(b.0), a.0.max(b.0));
    let (top, bottom) = (a.1.min(b.1), a.1.max(b.1));
    left < high.0 && right > low.0 && top < high.1 && bottom > low.1
}

#[test]
fn words_stand_on_the_drawing_and_on_nothing_else() {
    let every = ["wire", "link", "ground", "guard", "screen", "metal", "outline"];
    for circuit in all() {
        let svg = draw::draw(&circuit, "x");
        let boxes = boxes(&svg);
        let lines = lines(&svg, &every);
        for (index, one) in boxes.iter().enumerate() {
            let inside = one.1.0 >= 0.0 && one.2.0 <= draw::SIZE.0 && one.2.1 <= draw::SIZE.1;
            assert!(inside && one.1.1 >= 0.0, "{one:?} is cut off: {circuit:?}");
            for two in &boxes[..index] {
                assert!(!overlap(one, two), "{one:?} lies on {two:?}: {circuit:?}");
            }
            for line in &lines {
                for pair in line.windows(2) {
                    let through = struck(one, pair[0], pair[1]);
                    assert!(!through, "{one:?} is struck by {pair:?}: {circuit:?}");
                }
            }
        }
        for (x, y) in lines.iter().flatten() {
            assert!((0.0..=draw::SIZE.0).contains(x) && (0.0..=draw::SIZE.1).contains(y));
        }
    }
}

/// The oversheath lies between the screen and the outside (IEC 60229, from memory, unverified):
/// the screen is at high voltage with its conductor, on no ground, and the outside is not.
#[test]
fn the_screen_of_an_oversheath_is_at_high_voltage() {
    for circuit in all().into_iter().filter(|circuit| circuit.body == Body::Oversheath) {
        let nets = Nets::of(&draw::draw(&circuit, "x"));
        let (conductor, outside) = (nets.at(CONDUCTOR), nets.at((300.0, 75.0)));
        for screen in [(312.0, 56.0), (312.0, 68.0)] {
            assert_eq!(nets.at(screen), conductor, "{circuit:?}");
        }
        assert_ne!(conductor, nets.at(SOLID_GROUND), "{circuit:?}");
        assert_ne!(conductor, outside, "{circuit:?}");
        let told = words::sentences(&circuit).join(" ");
        assert!(told.contains("screen, conductor tied to it"), "{told}");
        assert!(!told.contains("(screen)"), "{told}");
    }
}

/// Both leads of a series circuit stand at one voltage, so that no lamp is in the way.
#[test]
fn both_leads_of_a_loop_are_at_high_voltage() {
    for circuit in all().into_iter().filter(|circuit| circuit.body == Body::Loop) {
        let nets = Nets::of(&draw::draw(&circuit, "x"));
        assert_eq!(nets.at((312.0, 62.0)), nets.at((312.0, 44.0)), "{circuit:?}");
        assert_ne!(nets.at((312.0, 62.0)), nets.at(SOLID_GROUND), "{circuit:?}");
    }
}

#[test]
fn where_no_link_is_set_the_drawing_says_so() {
    for circuit in all() {
        let svg = draw::draw(&circuit, "x");
        let told = words::sentences(&circuit).join(" ");
        let none = circuit.link == Link::None;
        assert_eq!(svg.contains("NO LINK SET"), none);
        assert_eq!(told.contains("No link is set"), none);
        assert_eq!(svg.matches(">LINK<").count(), usize::from(!none));
        assert_eq!(svg.matches(">open<").count(), if none { 2 } else { 1 });
    }
}

#[test]
fn the_words_say_what_is_drawn() {
    let check = |circuit: &Circuit, expected: &str| {
        assert_eq!(words::sentences(circuit).join("\n"), expected);
    };
    check(
        &plain(),
        "The set's negative high-voltage terminal goes through the high-voltage lead, its screen \
         on the guard, to what is tested: conductor under test.\n\
         The low side (screen) is on the one solid ground.\n\
         The other conductors are on the one solid ground.\n\
         The link ties return to ground; guard to ground is open.\n\
         The current meter that is read stands in the return.\n\
         No end has a guard ring.",
    );
    let guarded = Circuit {
        polarity: Polarity::Positive,
        low_side: LowSide::Isolated,
        link: Link::GuardToGround,
        guard: Guard::BothEnds,
        divider: true,
        shunted: true,
        body: Body::Capacitor,
        others: false,
        ..plain()
    };
    check(
        &guarded,
        "The set's positive high-voltage terminal goes through the high-voltage lead to what \
         is tested: one side, terminals joined.\n\
         The low side (other side) goes by a screened lead to the return, the screen to the \
         guard.\n\
         The link ties guard to ground; return to ground is open.\n\
         The current meter that is read stands in the return.\n\
         Both ends have a guard ring, on the source's side of the current meter.\n\
         A divider stands from high voltage to ground, the kilovolt meter at its low end.\n\
         A surge gap and a bolted bypass stand across the current meter.",
    );
}

#[test]
fn polarity_stands_at_the_terminal_and_in_the_source() {
    for (polarity, word, first) in
        [(Polarity::Negative, "HV negative", "−"), (Polarity::Positive, "HV positive", "+")]
    {
        let svg = draw::draw(&Circuit { polarity, ..plain() }, "x");
        assert!(svg.contains(word));
        let sign = |sign: &str| svg.find(&format!(">{sign}<")).expect("both signs are drawn");
        let second = if first == "+" { "−" } else { "+" };
        assert!(sign(first) < sign(second), "the upper sign is that of the terminal");
    }
}

/// The screen of the lead is on the source's side, so that what it takes passes the meter by.
#[test]
fn the_screen_of_the_high_voltage_lead_is_on_the_guard() {
    for circuit in all().into_iter().filter(|circuit| circuit.lead_on_guard()) {
        let nets = Nets::of(&draw::draw(&circuit, "x"));
        assert_eq!(nets.at((200.0, 55.0)), nets.at(SOURCE_LOW), "{circuit:?}");
        assert_ne!(nets.at((200.0, 55.0)), nets.at(SOLID_GROUND), "{circuit:?}");
    }
}
