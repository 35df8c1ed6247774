//! Hold points and the people of a test: what stands before voltage, what passes it over, and who
//! is heard while it is on. Every expectation is derived from decision 0016 of this project.

use plan::course::{Line, When};
use plan::ready::{Question, Role as Part};
use quantity::Time;
use session::fold::deviations;
use session::guard::Guard;
use session::live::view::ComeDown;
use session::live::{Next, Refusal, Timer};
use session::role::{Role, RoleNews};
use session::state::State;
use session::{Event, hold};

use crate::bench::{Bench, DOWN, UP, plan};

/// A line before anything is connected, one while connecting, one that holds nothing, a question,
/// a watch and a far end that is heard every five minutes.
fn bench() -> Bench {
    let source = "{\"id\":\"none\",\"title\":\"none\",\"edition\":\"none\",\"place\":\"none\",\
                  \"mark\":\"practice\"}";
    let source = || serde_json::from_str(source).expect("the keys are those of a citation");
    let line = |id: &str, when, hold_point| Line {
        id: id.to_owned(),
        text: format!("Look at {id}."),
        when,
        source: source(),
        hold_point,
    };
    let mut plan = plan(&["A", "B"], false);
    plan.checklist = vec![
        line("barrier", When::Before, true),
        line("gloves", When::Before, false),
        line("far-end-guarded", When::Connecting, true),
        line("leads", When::Connecting, true),
        line("ground-on", When::After, true),
    ];
    plan.ready.questions = vec![Question {
        id: "gas".to_owned(),
        text: "Gas tested?".to_owned(),
        answered_by: None,
        answer: None,
        hold_point: true,
        source: source(),
    }];
    let part = |id: &str| Part {
        id: id.to_owned(),
        text: String::new(),
        name: None,
        also: Vec::new(),
        source: source(),
    };
    plan.ready.roles = ["operator", "recorder", "watch", "far-end"].map(part).to_vec();
    plan.ready.far_end_every = Some(Time::from_seconds(300.0));
    Bench::of(plan)
}

const GROUNDED: &str = "@A ground 1; @B ground 2; lead A; check A";
const TICKED: &str = "tick 1; tick 4; tick q1";

/// The rules that stand against a line, the numbers of open hold points, and who was not heard.
fn stands_against(bench: &mut Bench, line: &str) -> (Vec<Guard>, String, Vec<Role>) {
    match bench.say(line) {
        Err(Refusal::Unmet { guards, open, unheard, .. }) => (guards, open.join(" "), unheard),
        other => panic!("{line}: {other:?}"),
    }
}

#[test]
fn a_plan_names_its_hold_points_by_number() {
    let named: Vec<String> = hold::of(&bench().head.plan)
        .iter()
        .map(|one| format!("{} {}", one.number, one.id))
        .collect();
    assert_eq!(named, ["1 barrier", "3 far-end-guarded", "4 leads", "q1 gas"]);
}

#[test]
fn energising_waits_for_every_hold_point_and_names_the_open_ones() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work("tick 1; lift 1; here watch");
    let (guards, open, unheard) = stands_against(&mut bench, "energise");
    assert_eq!((guards, open.as_str()), (vec![Guard::HoldPoints, Guard::Heard], "3 4 q1"));
    assert_eq!(unheard, [Role::FarEnd]);
    let told = bench.say("energise").expect_err("it is open").to_string();
    assert!(told.contains("open: 3, 4, q1") && told.contains("far-end guard"), "{told}");
    // Named by number, by name and in all its words; the far end's own word is its hold point.
    bench.work("tick 4; tick Gas tested?; here far-end");
    assert_eq!(bench.session.view(bench.now()).next, Next::Energise);
    bench.work("untick leads");
    assert_eq!(stands_against(&mut bench, "energise").1, "4");
    bench.work("@A tick leads; energise");
    assert_eq!(bench.session.state("A"), Some(State::AtZero));
}

#[test]
fn a_tick_of_one_conductor_is_of_no_other() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work("@B tick 1");
    assert_eq!(stands_against(&mut bench, "lift 1").1, "1");
    bench.work("@A tick barrier; lift 1; untick 1; tick 1");
}

/// Whoever takes grounds off where no voltage follows, or after it, is held up by none.
#[test]
fn a_ground_comes_off_on_the_way_to_voltage_only_behind_its_hold_points() {
    let mut bench = bench();
    bench.work(GROUNDED);
    let (guards, open, _) = stands_against(&mut bench, "lift 1");
    assert_eq!((guards, open.as_str()), (vec![Guard::HoldPoints], "1"));
    let next = bench.session.view(bench.now()).next;
    assert_eq!(next.to_string(), "look at the hold points and tick each: 1, 3, 4, q1");
    bench.work("@B lift 2; @B ground 2");
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end; energise; rise");
    bench.work("untick 1; stop; off; residual 0.01; tool; ground 1 at A; wait 1300; lift 1");
    assert_eq!(bench.session.state("A"), Some(State::Lifted));
}

#[test]
fn what_is_passed_over_has_a_reason_and_is_a_deviation() {
    let mut bench = bench();
    bench.work(GROUNDED);
    let unknown = bench.say("override 2 reason never mind").expect_err("it holds nothing");
    assert!(unknown.to_string().contains("1, 3, 4, q1"), "{unknown}");
    bench.work("override 1 reason a wall stands in its place; tick 4; tick q1; lift 1");
    // An end that is barred instead of guarded has nobody who answers.
    bench.work("override far-end-guarded reason both doors bolted; here watch; energise; rise");
    bench.wait(900.0);
    assert!(bench.session.view(bench.now()).come_down.is_empty());
    let record = bench.record();
    let told: Vec<(&str, &str, Option<&str>)> = deviations(&record)
        .filter_map(|entry| match &entry.what {
            Event::Overridden { line, reason, .. } => {
                Some((line.as_str(), reason.as_str(), entry.by.as_deref()))
            }
            _ => None,
        })
        .collect();
    let by = Some("R. Tester");
    let expected = [
        ("barrier", "a wall stands in its place", by),
        ("far-end-guarded", "both doors bolted", by),
    ];
    assert_eq!(told, expected);
    assert_eq!(bench.replayed().folded(), bench.session.folded());
}

/// Readings are never refused: what they show takes the rules with it that it breaks.
#[test]
fn voltage_that_is_seen_behind_an_open_hold_point_is_recorded_with_it() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work("tick 1; lift 1");
    for _ in 0..3 {
        bench.meter(5.0, 100.0);
        bench.wait(1.0);
    }
    let broken = bench.events.iter().find_map(|entry| match &entry.what {
        Event::Did { act, breaches, .. } if act.kind().key() == "energise" => Some(breaches),
        _ => None,
    });
    assert_eq!(broken, Some(&vec![Guard::HoldPoints, Guard::Heard]));
    assert_eq!(bench.replayed().folded(), bench.session.folded());
}

#[test]
fn everybody_is_heard_anew_before_each_energising() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch; here far end");
    // An answer is as old as the far end may be silent.
    bench.wait(301.0);
    assert_eq!(stands_against(&mut bench, "energise").2, [Role::FarEnd]);
    bench.work("here far-end; energise");
    assert_eq!(bench.session.state("A"), Some(State::AtZero));
}

#[test]
fn a_word_said_while_voltage_was_on_is_not_one_for_the_next() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end");
    bench.work(UP);
    bench.work("here far-end");
    bench.work(DOWN);
    bench.work("lead B; check B; @B lift 2");
    let next = bench.session.view(bench.now()).next;
    assert_eq!(next, Next::HearFrom { roles: vec![Role::Watch, Role::FarEnd] });
    assert_eq!(stands_against(&mut bench, "energise").2, [Role::Watch, Role::FarEnd]);
    bench.work("here watch far-end; energise");
}

/// News of parts, in order, but for those that are there.
fn news(bench: &Bench) -> Vec<(Role, RoleNews)> {
    let all = bench.events.iter().filter_map(|entry| match &entry.what {
        Event::Role { role, news } if *news != RoleNews::Here => Some((*role, news.clone())),
        _ => None,
    });
    all.collect()
}

#[test]
fn a_far_end_that_is_silent_is_told_once_and_asks_to_come_down() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end; energise; rise");
    let due = bench.session.poll_timeout().expect("the far end is waited for");
    assert_eq!(due.1, Timer::RoleDue);
    bench.wait(280.0);
    assert!(news(&bench).is_empty());
    let view = bench.session.view(bench.now());
    let far = view.roles.iter().find(|one| one.role == Role::FarEnd).expect("it is planned");
    assert!(far.due_in.is_some_and(|due| due < Time::from_seconds(20.0)) && !far.silent);
    bench.wait(60.0);
    let told = news(&bench);
    assert!(
        matches!(&told[..], [(Role::FarEnd, RoleNews::Silent { time })]
            if (300.0..=304.0).contains(&time.seconds())),
        "{told:?}"
    );
    let view = bench.session.view(bench.now());
    assert!(matches!(&view.come_down[..], [ComeDown::Silent { role: Role::FarEnd, .. }]));
    assert_eq!(view.next, Next::BringDown);
    assert_eq!(bench.replayed().folded(), bench.session.folded());
    bench.work("here far-end");
    let view = bench.session.view(bench.now());
    assert!(view.come_down.is_empty() && matches!(view.next, Next::Raise { .. }));
    bench.work("stop; off");
    bench.wait(900.0);
    assert_eq!(news(&bench).len(), 1, "nothing feeds it: nobody is waited for");
}

#[test]
fn a_call_asks_to_come_down_until_whoever_called_is_heard_again() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end; call far-end a van stops at the gate");
    assert!(bench.session.view(bench.now()).come_down.is_empty(), "no voltage is on");
    assert_eq!(stands_against(&mut bench, "energise").2, [Role::FarEnd]);
    bench.work("here far-end; energise; rise; call somebody climbs the fence");
    let view = bench.session.view(bench.now());
    assert_eq!(view.next, Next::BringDown);
    let [ComeDown::Called { role, text }] = &view.come_down[..] else { panic!("{view:?}") };
    assert_eq!((*role, text.as_str()), (Role::Operator, "somebody climbs the fence"));
    bench.work("here operator; call watch");
    let view = bench.session.view(bench.now());
    assert_eq!(view.come_down[0].to_string(), "the watch calls it off");
    assert_eq!(bench.replayed().folded(), bench.session.folded());
}

#[test]
fn what_is_taken_back_while_voltage_is_on_asks_to_come_down() {
    let mut bench = bench();
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end; energise; rise; untick barrier");
    let view = bench.session.view(bench.now());
    let [why] = &view.come_down[..] else { panic!("{view:?}") };
    assert_eq!(why.to_string(), "hold point 1 is no longer confirmed: Look at barrier.");
    bench.work("tick barrier");
    assert!(bench.session.view(bench.now()).come_down.is_empty());
}

/// A plan of earlier days says nothing of how often: such a record is gone on with as it was.
#[test]
fn a_plan_without_a_time_waits_for_nobody_while_voltage_is_on() {
    let mut of_old = bench().head.plan;
    of_old.ready.far_end_every = None;
    let mut bench = Bench::of(of_old);
    bench.work(GROUNDED);
    bench.work(TICKED);
    bench.work("lift 1; here watch far-end; energise; rise; wait 4000");
    assert!(news(&bench).is_empty());
}
