use super::*;

/// Seconds, kilovolts, microamperes of each row.
type Rows = Vec<(f64, Option<f64>, Option<f64>)>;

fn read(text: &str, said: &str) -> Result<(String, Rows), Vec<String>> {
    let asked: Asked = said.parse().expect("well formed");
    let guess = guess(text, &asked);
    let Some(mapping) = guess.mapping() else {
        return Err(guess.doubts.iter().map(ToString::to_string).collect());
    };
    let (readings, _) = rows(text, &mapping).map_err(|faults| {
        faults.iter().map(|one| format!("{}: {one}", one.line)).collect::<Vec<_>>()
    })?;
    let row = |row: &crate::readings::Row| {
        let near = |value: f64| (value * 1e9).round() / 1e9;
        (
            row.reading.at.seconds(),
            row.reading.voltage.map(|v| near(v.kilovolts())),
            row.reading.current.map(|i| near(i.microamperes())),
        )
    };
    Ok((mapping.to_string(), readings.rows.iter().map(row).collect()))
}

fn check(text: &str, said: &str, mapping: &str, expected: &[(f64, f64, f64)]) {
    let (found, rows) = read(text, said).unwrap_or_else(|told| panic!("{text}\n{told:?}"));
    assert_eq!(found, mapping, "{text}");
    let expected: Rows = expected.iter().map(|(t, v, i)| (*t, Some(*v), Some(*i))).collect();
    assert_eq!(rows, expected, "{text}");
}

fn doubts(text: &str, said: &str, parts: &[&str]) {
    let told = read(text, said).expect_err(text);
    assert_eq!(told.len(), parts.len(), "{text}: {told:?}");
    for (one, part) in told.iter().zip(parts) {
        assert!(one.contains(part), "{one} without {part}");
    }
}

/// Values of each log by hand: volts / 1000, nanoamperes / 1000, milliamperes times 1000.
#[test]
fn logs_of_many_makes_are_read() {
    check(
        "Time (s),Voltage (V),Current (nA)\n0,5000,1200\n60,5000,800\n",
        "",
        "t=1:s,kv=2:V,ua=3:nA,decimal=point,delimiter=comma,skip=1",
        &[(0.0, 5.0, 1.2), (60.0, 5.0, 0.8)],
    );
    check(
        "Logger 7\nsite: mill\n\nZeit;U;I\nh:m:s;kV;mA\n08:00:00;5,0;0,0012\n08:01:30;5,1;0,0008\n",
        "",
        "t=1:clock,kv=2:kV,ua=3:mA,decimal=comma,delimiter=semicolon,skip=5",
        &[(0.0, 5.0, 1.2), (90.0, 5.1, 0.8)],
    );
    check(
        "No\tTimestamp\tR (M\u{3a9})\tU [kV]\tI [\u{b5}A]\n\
         1\t2026-11-03T23:59:59.5\t4000\t5.00\t1.25\n\
         2\t2026-11-04T00:00:00.5\t4000\t5.00\t1.25\n",
        "",
        "t=2:clock,kv=4:kV,ua=5:uA,decimal=point,delimiter=tab,skip=1",
        &[(0.0, 5.0, 1.25), (1.0, 5.0, 1.25)],
    );
    check(
        "t_min   HV_kV   leakage_uA\n0.5     5       1.5\n1       5       1.0\n",
        "",
        "t=1:min,kv=2:kV,ua=3:uA,decimal=point,delimiter=blanks,skip=1",
        &[(30.0, 5.0, 1.5), (60.0, 5.0, 1.0)],
    );
    check(
        "elapsed s,reading 1,reading 2\n0,5.0 kV,1.5 uA\n60,5.0 kV,1.2 uA\n",
        "",
        "t=1:s,kv=2:kV,ua=3:uA,decimal=point,delimiter=comma,skip=1",
        &[(0.0, 5.0, 1.5), (60.0, 5.0, 1.2)],
    );
    check(
        "0;5000;2\n60;5000;1\n",
        "t=1:s,kv=2:V,ua=3:uA",
        "t=1:s,kv=2:V,ua=3:uA,decimal=point,delimiter=semicolon,skip=0",
        &[(0.0, 5.0, 2.0), (60.0, 5.0, 1.0)],
    );
}

#[test]
fn what_is_not_plain_is_asked_and_never_guessed() {
    // A thousand and two hundred, or one and two tenths.
    let log = "t (s);U (V);I (nA)\n0;1,200;1,500\n60;1,200;1,400\n";
    doubts(log, "", &["decimal=comma or decimal=point"]);
    let point = "t=1:s,kv=2:V,ua=3:nA,decimal=point,delimiter=semicolon,skip=1";
    check(log, "decimal=point", point, &[(0.0, 1.2, 1.5), (60.0, 1.2, 1.4)]);
    let comma = "t=1:s,kv=2:V,ua=3:nA,decimal=comma,delimiter=semicolon,skip=1";
    check(log, "decimal=comma", comma, &[(0.0, 0.0012, 0.0015), (60.0, 0.0012, 0.0014)]);
    doubts("t (s);U (V);I (nA)\n0;1.200,5;1\n", "", &["points and commas"]);
    let unnamed = "time,voltage,current\n0,5,1\n";
    doubts(unnamed, "", &["the time is in", "the voltage is in", "the current is in"]);
    doubts("t (s),U1 (V),U2 (V),I (A)\n0,5,5,1\n", "", &["kv=NUMBER: several"]);
    doubts("t (s),R (M\u{3a9}),U (V)\n0,5,5\n", "", &["ua=NUMBER: no name"]);
    doubts("t,kV,mA\n12:30,5,1\n12:31,5,1\n", "", &["m-s"]);
    doubts("nothing here\nis a log\n", "", &["skip=LINES"]);
}

/// Overloads stay without a value, rows with nothing are left out, digits are kept.
#[test]
fn no_value_is_made_up() {
    let log = "t (s);U (kV);I (mA)\n0;5.0;0.120\n1;5.0;OL\n2;5.0;---\n3;--;n/a\n4;5.0;9.9E37\n";
    let guess = guess(log, &Asked::default());
    let mapping = guess.mapping().expect("plain");
    let (readings, note) = rows(log, &mapping).expect("it is read");
    let read: Vec<(Option<f64>, bool)> = readings
        .rows
        .iter()
        .map(|row| (row.reading.current.map(|i| i.microamperes()), row.reading.overload))
        .collect();
    assert_eq!(read, [(Some(120.0), false), (None, true), (None, false), (None, true)]);
    assert_eq!(note.empty, 1);
    // Half of a microampere: 0.120 mA was written to a microampere.
    let half = readings.rows[0].reading.current_half_digit.map(|half| half.microamperes());
    assert!(half.is_some_and(|half| (half - 0.5).abs() < 1e-9), "{half:?}");
    let lines: Vec<Option<usize>> = readings.rows.iter().map(|row| row.reading.line).collect();
    assert_eq!(lines, [Some(2), Some(3), Some(4), Some(6)]);
}

#[test]
fn faults_name_the_line_of_the_log() {
    let told = |text: &str, said: &str| read(text, said).expect_err(text).join("\n");
    let well = "t (s);U (V);I (A)\n0;5;1E-6\n1;5;1E-6\n2;5;1E-6\n3;5;1E-6\n";
    let log = &format!("{well}4;5\n5;five;1E-6\n6;5;1E-6 V\n1;5;1E-6\n");
    let said = told(log, "");
    for part in ["6: ", "7: ", "8: ", "9: sort the lines"] {
        assert!(said.contains(part), "{said}");
    }
    assert!(told("t (s);U (kV);I (A)\n0;50000;1E-6\n", "").contains("if you meant"));
}

/// Time counts from the line at which voltage was put on, and rows before it are left out.
#[test]
fn a_log_that_began_before_the_test_says_its_zero() {
    let log = "t (s),U (V),I (nA)\n100,0,0\n101,10,5\n102,5000,800\n103,5000,700\n";
    let zero = "t=1:s,kv=2:V,ua=3:nA,decimal=point,delimiter=comma,skip=1,zero=3";
    check(log, "zero=3", zero, &[(0.0, 0.01, 0.005), (1.0, 5.0, 0.8), (2.0, 5.0, 0.7)]);
}

/// Source: derived: three rows 30 s apart were seen for a minute, whatever their clock counts from;
/// a first reading a sampling time after zero is one.
#[test]
fn a_time_that_is_under_way_at_the_first_row_is_asked_about() {
    let log = "Time (s),U (kV),I (uA)\n3600,50,9\n3630,50,8\n3660,50,7\n";
    doubts(log, "", &["zero=LINE"]);
    let from = "t=1:s,kv=2:kV,ua=3:uA,decimal=point,delimiter=comma,skip=1,zero=2";
    check(log, "zero=2", from, &[(0.0, 50.0, 9.0), (30.0, 50.0, 8.0), (60.0, 50.0, 7.0)]);
    let stands = from.replace("zero=2", "zero=0");
    check(log, "zero=0", &stands, &[(3600.0, 50.0, 9.0), (3630.0, 50.0, 8.0), (3660.0, 50.0, 7.0)]);
    for (log, is_asked) in [
        ("t (s),U (kV),I (uA)\n60,5,9\n120,5,8\n", false),
        ("t (s),U (kV),I (uA)\n900,0,0\n910,2,8\n920,5,8\n", false),
        ("t (s),U (kV),I (uA)\n150,5,9\n155,5,8\n160,5,8\n", true),
    ] {
        assert_eq!(read(log, "").is_err(), is_asked, "{log}");
    }
}

/// Derived: nothing behind a time is dropped, and days are reckoned by the calendar.
#[test]
fn a_time_that_says_more_than_its_column_is_refused() {
    let told = |text: &str, said: &str| read(text, said).expect_err(text).join("\n");
    let log = "Time (s),U (kV),I (uA)\n0,0,0\n10,50,9\n";
    for (row, part) in [("10:30,50,9", "10:30"), ("5 min,50,9", "5 min")] {
        let said = told(&format!("{log}{row}\n"), "t=1:s");
        assert!(said.contains(part), "{said}");
    }
    assert!(read(&format!("{log}20 s,50,8\n"), "t=1:s").is_ok());
    let days = "Timestamp,U (kV),I (uA)\n2026-11-03T23:59:00,0,0\n2026-11-03T23:59:30,50,9\n";
    let next = format!("{days}2026-11-04T00:05:00,50,8\n");
    let mapped = "t=1:clock,kv=2:kV,ua=3:uA,decimal=point,delimiter=comma,skip=1";
    check(&next, "", mapped, &[(0.0, 0.0, 0.0), (30.0, 50.0, 9.0), (360.0, 50.0, 8.0)]);
    let later = format!("{days}2026-11-07T00:05:00,50,8\n");
    assert!(told(&later, "").contains("2026-11-07"));
}

/// A thousand volts and more are tested: three digits behind a point may be thousands in volts.
#[test]
fn a_point_before_three_digits_of_volts_is_asked_about() {
    doubts("Time (s);U (V);I (nA)\n0;0;0\n10;50.000;9.000\n20;50.000;8.000\n", "", &["decimal"]);
    let clear = "Time (s);U (V);I (nA)\n0;0;0\n10;5000.5;9.000\n20;5000.1;8.000\n";
    assert!(read(clear, "").is_ok());
    assert!(read("Time (s);U (kV);I (nA)\n0;0;0\n10;50.000;9.000\n20;50.000;8.000\n", "").is_ok());
}

/// One column is one quantity, and none lies beyond the last.
#[test]
fn a_column_that_is_not_there_or_stands_for_two_is_asked_about() {
    let log = "Time (s),U (kV),I (uA)\n0,0,0\n10,50,9\n20,50,8\n";
    doubts(log, "ua=2:uA", &["one stands for two"]);
    doubts(log, "t=9:s", &["t=NUMBER"]);
    doubts(log, "kv=9:kV", &["kv=NUMBER"]);
}

/// A log that is cut in its last line is told so, and is no file of another kind.
#[test]
fn a_last_line_that_is_cut_is_named() {
    let log = "Time (s),U (kV),I (uA)\n0,0,0\n10,50.0,9\n20,50.0";
    let said = read(log, "").expect_err("it is cut").join("\n");
    assert!(said.starts_with("4: "), "{said}");
}
