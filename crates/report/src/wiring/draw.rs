//! Where everything stands on the drawing.
//!
//! The set on the left, the object on the right, one solid ground beneath. A line that crosses
//! another hops over it; where lines join there is a dot.

use plan::course::{Guard, Link, MeterAt};
use plan::job::{LowSide, Polarity};

use super::circuit::{Body, Circuit};
use super::pen::{Hang, Line, Pen, Spot};
use super::words;

/// The size of the drawing.
pub(super) const SIZE: Spot = (400.0, 264.0);
/// The size of its letters.
pub(super) const LETTERS: f64 = 10.5;

/// The set's outline.
const SET: (Spot, Spot) = ((6.0, 28.0), (118.0, 212.0));
/// The set's terminals, at its right edge.
const EDGE: f64 = 118.0;
const HIGH: f64 = 62.0;
const GUARD: f64 = 116.0;
const GROUND: f64 = 152.0;
const RETURN: f64 = 188.0;
/// The source's rail inside the set.
const RAIL: f64 = 24.0;
/// The link stands here, outside the terminals.
const LINK: f64 = 132.0;
/// A tie from the guard down to the screen of the low-side lead.
const TIE: f64 = 142.0;
/// Words about the link begin here.
const ASIDE: f64 = 150.0;
/// A tie from the guard up to the screen of the high-voltage lead.
const SCREEN: f64 = 147.0;
/// The screened part of the high-voltage lead.
const LEAD: (f64, f64) = (172.0, 236.0);
/// Ground.
const BUS: f64 = 228.0;
/// Over the object runs the guard where it is at high voltage.
const OVER: f64 = 30.0;
/// The divider.
const DIVIDER: f64 = 238.0;
const KILOVOLTS: f64 = 266.0;
/// The object, its two ends and what goes down from it.
const NEAR: f64 = 262.0;
const FAR: f64 = 362.0;
const MIDDLE: f64 = 312.0;
const OTHERS: f64 = 352.0;
const END: f64 = 388.0;

pub(super) fn draw(circuit: &Circuit, title: &str) -> String {
    let mut pen = Pen::new(SIZE, LETTERS, title);
    set(&mut pen, circuit);
    meter_in_set(&mut pen, circuit);
    link(&mut pen, circuit);
    ground(&mut pen);
    high_lead(&mut pen, circuit);
    object(&mut pen, circuit);
    others(&mut pen, circuit);
    low_side(&mut pen, circuit);
    guard(&mut pen, circuit);
    divider(&mut pen, circuit);
    pen.finish()
}

/// Where the object's low side goes down.
const fn down(body: Body) -> f64 {
    match body {
        Body::Cable | Body::Oversheath | Body::Loop | Body::Bus | Body::Gear | Body::Winding => {
            284.0
        }
        Body::Capacitor | Body::Water | Body::Sheet | Body::Post => MIDDLE,
    }
}

fn set(pen: &mut Pen, circuit: &Circuit) {
    pen.rect(Line::Outline, SET.0, SET.1);
    pen.words((12.0, 42.0), Hang::Start, true, "test set");
    pen.circle((RAIL, 90.0), 11.0);
    pen.line(Line::Outline, &[(RAIL, 79.0), (RAIL, 101.0)]);
    let (top, bottom) = match circuit.polarity {
        Polarity::Negative => ("−", "+"),
        Polarity::Positive => ("+", "−"),
    };
    pen.words((38.0, 84.0), Hang::Start, true, top);
    pen.words((38.0, 108.0), Hang::Start, true, bottom);
    pen.line(Line::Wire, &[(RAIL, 79.0), (RAIL, HIGH), (EDGE, HIGH)]);
    let high = format!("HV {}", crate::words::polarity(circuit.polarity));
    pen.words((112.0, HIGH - 5.0), Hang::End, true, &high);
    pen.line(Line::Wire, &[(RAIL, 101.0), (RAIL, RETURN)]);
    pen.line(Line::Wire, &[(RAIL, GUARD), (EDGE, GUARD)]);
    pen.joint((RAIL, GUARD));
    pen.words((112.0, GUARD - 5.0), Hang::End, false, "guard");
    pen.line(Line::Ground, &[(EDGE, GROUND), (109.0, GROUND), (109.0, BUS)]);
    pen.words((106.0, GROUND + 4.0), Hang::End, false, "ground");
    pen.words((103.0, RETURN - 6.0), Hang::End, false, "return");
    for y in [HIGH, GUARD, GROUND, RETURN] {
        pen.terminal((EDGE, y));
    }
}

fn meter_in_set(pen: &mut Pen, circuit: &Circuit) {
    if circuit.meter_at == MeterAt::HighVoltageEnd {
        pen.hopping(Line::Wire, &[(RAIL, RETURN), (EDGE, RETURN)], &[109.0]);
        return;
    }
    pen.line(Line::Wire, &[(RAIL, RETURN), (38.0, RETURN)]);
    meter(pen, (50.0, RETURN), "µA");
    pen.hopping(Line::Wire, &[(62.0, RETURN), (EDGE, RETURN)], &[109.0]);
    if circuit.shunted {
        shunts(pen);
    }
}

/// Surge gap and bypass, across the meter.
fn shunts(pen: &mut Pen) {
    let (left, right) = (33.0, 65.0);
    let (gap, bypass) = (168.0, 138.0);
    pen.line(Line::Wire, &[(left, RETURN), (left, bypass), (42.0, bypass)]);
    pen.line(Line::Wire, &[(right, RETURN), (right, bypass), (58.0, bypass)]);
    pen.line(Line::Wire, &[(left, gap), (43.0, gap)]);
    pen.line(Line::Wire, &[(right, gap), (56.0, gap)]);
    for (x, tip) in [(43.0, 48.0), (56.0, 51.0)] {
        pen.shape(Line::Outline, &[(x, gap - 4.0), (x, gap + 4.0), (tip, gap)]);
    }
    pen.line(Line::Outline, &[(42.0, bypass), (57.0, bypass - 8.0)]);
    pen.words((72.0, gap + 1.0), Hang::Start, false, "gap");
    pen.words((70.0, bypass + 3.0), Hang::Start, false, "bypass");
    for y in [gap, RETURN] {
        pen.joint((left, y));
        pen.joint((right, y));
    }
}

fn meter(pen: &mut Pen, (x, y): Spot, unit: &str) {
    pen.circle((x, y), 12.0);
    pen.words((x, y + 3.8), Hang::Middle, true, unit);
}

fn link(pen: &mut Pen, circuit: &Circuit) {
    for y in [GUARD, GROUND, RETURN] {
        pen.line(Line::Wire, &[(EDGE, y), (LINK, y)]);
    }
    let between = |pen: &mut Pen, y: f64, fitted: bool, ends: &str| {
        let is = if fitted { "LINK" } else { "open" };
        pen.words((ASIDE, y - 4.0), Hang::Start, fitted, is);
        pen.words((ASIDE, y + 8.0), Hang::Start, false, ends);
    };
    let (upper, lower) = (GUARD.midpoint(GROUND), GROUND.midpoint(RETURN));
    let fitted = |link: Link| circuit.link == link;
    between(pen, upper, fitted(Link::GuardToGround), "guard–ground");
    between(pen, lower, fitted(Link::ReturnToGround), "return–ground");
    match circuit.link {
        Link::GuardToGround => pen.line(Line::Link, &[(LINK, GUARD), (LINK, GROUND)]),
        Link::ReturnToGround => pen.line(Line::Link, &[(LINK, GROUND), (LINK, RETURN)]),
        Link::None => pen.words((12.0, 258.0), Hang::Start, true, words::NO_LINK),
    }
}

fn ground(pen: &mut Pen) {
    pen.line(Line::Ground, &[(109.0, BUS), (END, BUS)]);
    pen.line(Line::Ground, &[(196.0, BUS), (196.0, 238.0)]);
    for (reach, y) in [(11.0, 238.0), (7.0, 242.0), (3.0, 246.0)] {
        pen.line(Line::Ground, &[(196.0 - reach, y), (196.0 + reach, y)]);
    }
    pen.words((214.0, 243.0), Hang::Start, false, "one solid ground");
}

fn high_lead(pen: &mut Pen, circuit: &Circuit) {
    if circuit.meter_at == MeterAt::Return {
        pen.line(Line::Wire, &[(EDGE, HIGH), (250.0, HIGH)]);
        if circuit.lead_on_guard() {
            let (from, to) = (140.0, LEAD.1);
            pen.rect(Line::Screen, (from, HIGH - 7.0), (to, HIGH + 7.0));
            pen.line(Line::Guard, &[(SCREEN, HIGH + 7.0), (SCREEN, GUARD), (LINK, GUARD)]);
            pen.words((154.0, HIGH + 22.0), Hang::Start, false, "HV lead, screened");
        } else {
            pen.words((126.0, HIGH - 5.0), Hang::Start, false, "HV lead");
        }
        return;
    }
    pen.line(Line::Wire, &[(EDGE, HIGH), (140.0, HIGH)]);
    meter(pen, (152.0, HIGH), "µA");
    pen.line(Line::Wire, &[(164.0, HIGH), (250.0, HIGH)]);
    let (from, to) = LEAD;
    pen.rect(Line::Screen, (from, HIGH - 7.0), (to, HIGH + 7.0));
    pen.line(Line::Guard, &[(LINK, HIGH), (LINK, 42.0), (180.0, 42.0), (180.0, HIGH - 7.0)]);
    pen.joint((LINK, HIGH));
    pen.words((150.0, HIGH + 22.0), Hang::Start, false, "HV lead, screened");
}

fn object(pen: &mut Pen, circuit: &Circuit) {
    let body = circuit.body;
    let over = circuit.meter_at == MeterAt::HighVoltageEnd && circuit.guard != Guard::None;
    let y = if over { 18.0 } else { 36.0 };
    pen.words((END, y), Hang::End, true, words::high_side(body, circuit.others));
    match body {
        Body::Cable | Body::Bus => {
            pen.line(Line::Wire, &[(250.0, HIGH), (END, HIGH)]);
            pen.rect(Line::Metal, (276.0, HIGH - 13.0), (348.0, HIGH + 13.0));
        }
        Body::Oversheath => oversheath(pen),
        Body::Loop => one_loop(pen),
        Body::Gear => contacts(pen),
        Body::Winding => winding(pen),
        Body::Capacitor | Body::Water | Body::Sheet | Body::Post => plates(pen, body),
    }
    let x = down(body) + 6.0;
    pen.words((x, 104.0), Hang::Start, false, words::low_side(body));
}

/// The screen tied to its conductor at both ends, and what lies round the oversheath.
fn oversheath(pen: &mut Pen) {
    let (near, far) = (276.0, 348.0);
    pen.line(Line::Wire, &[(250.0, HIGH), (END, HIGH)]);
    pen.rect(Line::Metal, (near, HIGH - 6.0), (far, HIGH + 6.0));
    for (screen, conductor) in [(near, near - 6.0), (far, far + 6.0)] {
        let tie = [(screen, HIGH - 6.0), (conductor, HIGH - 6.0), (conductor, HIGH)];
        pen.line(Line::Wire, &tie);
        pen.joint((conductor, HIGH));
    }
    pen.line(Line::Metal, &[(near + 4.0, HIGH - 13.0), (far - 4.0, HIGH - 13.0)]);
    pen.line(Line::Metal, &[(near + 4.0, HIGH + 13.0), (far - 4.0, HIGH + 13.0)]);
}

/// Both leads joined; the loop lies in the soil.
fn one_loop(pen: &mut Pen) {
    let (near, far, over) = (248.0, 376.0, 44.0);
    let round = [(near, HIGH), (far, HIGH), (far, over), (near, over), (near, HIGH)];
    pen.line(Line::Wire, &round);
    pen.joint((near, HIGH));
    pen.line(Line::Metal, &[(272.0, HIGH + 13.0), (352.0, HIGH + 13.0)]);
}

/// A conductor with a contact in it, in a frame.
fn contacts(pen: &mut Pen) {
    pen.line(Line::Wire, &[(250.0, HIGH), (298.0, HIGH)]);
    pen.line(Line::Wire, &[(326.0, HIGH), (376.0, HIGH)]);
    pen.line(Line::Wire, &[(298.0, HIGH), (326.0, HIGH)]);
    for x in [298.0, 326.0] {
        pen.ring((x, HIGH), (3.0, 3.0));
    }
    pen.rect(Line::Metal, (276.0, HIGH - 13.0), (348.0, HIGH + 13.0));
}

/// Both its ends are joined, so that every turn is at the same voltage.
fn winding(pen: &mut Pen) {
    let (near, far, over) = (248.0, 376.0, 44.0);
    pen.line(Line::Wire, &[(near, HIGH), (280.0, HIGH)]);
    pen.coil((280.0, HIGH), 344.0, 4);
    pen.line(Line::Wire, &[(344.0, HIGH), (far, HIGH), (far, over), (near, over), (near, HIGH)]);
    pen.joint((near, HIGH));
    pen.line(Line::Metal, &[(272.0, HIGH + 13.0), (352.0, HIGH + 13.0)]);
}

fn plates(pen: &mut Pen, body: Body) {
    pen.line(Line::Wire, &[(250.0, HIGH), (MIDDLE, HIGH)]);
    let (top, bottom) = (HIGH, HIGH + 15.0);
    for y in [top, bottom] {
        pen.line(Line::Metal, &[(284.0, y), (340.0, y)]);
    }
    match body {
        Body::Capacitor => {}
        Body::Post => pen.rect(Line::Outline, (304.0, top + 3.0), (320.0, bottom - 3.0)),
        _ => pen.rect(Line::Outline, (288.0, top + 4.0), (336.0, bottom - 4.0)),
    }
    pen.line(Line::Wire, &[(MIDDLE, bottom), (MIDDLE, HIGH + 20.0)]);
}

fn others(pen: &mut Pen, circuit: &Circuit) {
    if !circuit.others {
        return;
    }
    pen.line(Line::Metal, &[(316.0, 160.0), (END, 160.0)]);
    pen.line(Line::Ground, &[(OTHERS, 160.0), (OTHERS, BUS)]);
    pen.joint((OTHERS, BUS));
    pen.words((END, 154.0), Hang::End, false, words::others(circuit.body));
}

fn low_side(pen: &mut Pen, circuit: &Circuit) {
    let x = down(circuit.body);
    let from = match circuit.body {
        Body::Capacitor | Body::Water | Body::Sheet | Body::Post => HIGH + 20.0,
        _ => HIGH + 13.0,
    };
    match circuit.low_side {
        LowSide::Grounded => {
            pen.line(Line::Ground, &[(x, from), (x, BUS)]);
            pen.joint((x, BUS));
        }
        LowSide::Isolated => {
            let over: &[f64] = if circuit.divider { &[DIVIDER, KILOVOLTS] } else { &[] };
            pen.line(Line::Wire, &[(x, from), (x, RETURN)]);
            pen.hopping(Line::Wire, &[(x, RETURN), (LINK, RETURN)], over);
            pen.rect(Line::Screen, (154.0, RETURN - 6.0), (x - 10.0, RETURN + 6.0));
            pen.line(Line::Guard, &[(TIE, GUARD), (TIE, RETURN - 6.0), (154.0, RETURN - 6.0)]);
            pen.line(Line::Guard, &[(LINK, GUARD), (TIE, GUARD)]);
            let said = if circuit.divider { "screened" } else { "return lead, screened" };
            pen.words((154.0, RETURN + 19.0), Hang::Start, false, said);
        }
    }
}

/// The rings, and the way from them to the source's side of the meter.
fn guard(pen: &mut Pen, circuit: &Circuit) {
    let long = !matches!(circuit.body, Body::Capacitor | Body::Water | Body::Sheet | Body::Post);
    let both = circuit.guard == Guard::BothEnds;
    if circuit.guard == Guard::None {
        return;
    }
    pen.ring((NEAR, HIGH), (4.0, 10.0));
    // A body without a far end has its second ring round the low side.
    let far = if long { (FAR, HIGH) } else { (MIDDLE, HIGH + 26.0) };
    if both {
        pen.ring(far, if long { (4.0, 10.0) } else { (10.0, 4.0) });
    }
    match circuit.meter_at {
        MeterAt::Return => guard_at_ground(pen, circuit, both.then_some(far), long),
        MeterAt::HighVoltageEnd => guard_at_high(pen, both.then_some(far), long),
    }
    pen.words((END, 132.0), Hang::End, false, if both { "guard rings" } else { "guard ring" });
}

fn guard_at_ground(pen: &mut Pen, circuit: &Circuit, far: Option<Spot>, long: bool) {
    let mut over = vec![];
    if circuit.divider {
        over.push(DIVIDER);
    }
    pen.hopping(Line::Guard, &[(LINK, GUARD), (NEAR, GUARD), (NEAR, HIGH + 10.0)], &over);
    let Some((x, y)) = far else { return };
    pen.joint((NEAR, GUARD));
    if long {
        let over = [down(circuit.body)];
        pen.hopping(Line::Guard, &[(NEAR, GUARD), (x, GUARD), (x, y + 10.0)], &over);
    } else {
        pen.line(Line::Guard, &[(NEAR, GUARD), (292.0, GUARD), (292.0, y), (x - 10.0, y)]);
    }
}

fn guard_at_high(pen: &mut Pen, far: Option<Spot>, long: bool) {
    let end = LEAD.1;
    pen.line(Line::Guard, &[(end, HIGH - 7.0), (end, OVER), (NEAR, OVER), (NEAR, HIGH - 10.0)]);
    let Some((x, y)) = far else { return };
    pen.joint((NEAR, OVER));
    if long {
        pen.line(Line::Guard, &[(NEAR, OVER), (x, OVER), (x, y - 10.0)]);
    } else {
        pen.line(Line::Guard, &[(NEAR, OVER), (370.0, OVER), (370.0, y), (x + 10.0, y)]);
    }
}

/// Two resistors from high voltage to ground, and the meter at the lower one.
fn divider(pen: &mut Pen, circuit: &Circuit) {
    if !circuit.divider {
        return;
    }
    // Before the meter where that stands at high voltage, so that it does not read the divider.
    let tap = (EDGE + 6.0, 94.0);
    let over: &[f64] = if circuit.lead_on_guard() { &[SCREEN] } else { &[] };
    let down = [(tap.0, HIGH), tap, (DIVIDER, tap.1), (DIVIDER, 124.0)];
    pen.hopping(Line::Wire, &down, over);
    pen.joint((tap.0, HIGH));
    pen.rect(Line::Outline, (DIVIDER - 5.0, 124.0), (DIVIDER + 5.0, 150.0));
    pen.line(Line::Wire, &[(DIVIDER, 150.0), (DIVIDER, 196.0)]);
    pen.rect(Line::Outline, (DIVIDER - 5.0, 196.0), (DIVIDER + 5.0, 216.0));
    pen.line(Line::Ground, &[(DIVIDER, 216.0), (DIVIDER, BUS)]);
    pen.line(Line::Wire, &[(DIVIDER, 166.0), (KILOVOLTS - 12.0, 166.0)]);
    pen.joint((DIVIDER, 166.0));
    meter(pen, (KILOVOLTS, 166.0), "kV");
    pen.line(Line::Ground, &[(KILOVOLTS, 178.0), (KILOVOLTS, BUS)]);
    pen.words((180.0, 106.0), Hang::Start, false, "divider");
}
