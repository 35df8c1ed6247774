use super::*;

/// What is said of a file, line by line.
fn said(bytes: &[u8]) -> Vec<String> {
    match parse(bytes) {
        Ok(_) => Vec::new(),
        Err(faults) => faults.iter().map(|one| format!("{}: {one}", one.line)).collect(),
    }
}

fn check(text: &str, expected: &[&str]) {
    let said = said(text.as_bytes());
    assert_eq!(said.len(), expected.len(), "{text:?}: {said:#?}");
    for (said, expected) in said.iter().zip(expected) {
        assert!(said.starts_with(expected), "{said}\nbut expected\n{expected}");
    }
}

fn values(bytes: &[u8]) -> Vec<(f64, Option<f64>, Option<f64>)> {
    let readings = parse(bytes).unwrap_or_else(|faults| panic!("{faults:#?}"));
    let value = |row: &Row| {
        let reading = &row.reading;
        let kv = reading.voltage.map(|kv| (kv.kilovolts() * 1e9).round() / 1e9);
        (
            reading.at.seconds(),
            kv,
            reading.current.map(|ua| (ua.microamperes() * 1e9).round() / 1e9),
        )
    };
    readings.rows.iter().map(value).collect()
}

#[test]
fn one_file_in_many_dresses_reads_the_same() {
    let expected = vec![(0.0, Some(5.0), Some(1.5)), (60.0, Some(5.25), Some(1.0))];
    let utf16 = |text: &str, bytes: fn(u16) -> [u8; 2]| {
        format!("\u{feff}{text}").encode_utf16().flat_map(bytes).collect::<Vec<u8>>()
    };
    let plain = "t_s,kv,ua\n0,5.0,1.5\n60,5.25,1.0\n";
    for bytes in [
        plain.as_bytes().to_vec(),
        plain.trim_end().as_bytes().to_vec(),
        plain.replace('\n', "\r\n").into_bytes(),
        plain.replace('\n', "\r").into_bytes(),
        format!("\u{feff}{plain}").into_bytes(),
        utf16(plain, u16::to_le_bytes),
        utf16(plain, u16::to_be_bytes),
        b"kv,t_s,ua\n5.0,0,1.5\n5.25,60,1.0\n".to_vec(),
        b"t_s, kv ,ua,\"note\"\n\n0,5.0,\"1.5\",\"a, b\"\n60,5.25,1.0,\n,,,\n".to_vec(),
        b"t_s;kv;ua\n0;5,0;1,5\n60;5,25;1,0\n".to_vec(),
        b"t_s\tkv\tua\n0\t5,0\t1,5\n60\t5,25\t1,0\n".to_vec(),
        b"t_s;kv;ua\n0;5.0;1.5\n60;5.25;1.0\n".to_vec(),
    ] {
        assert_eq!(values(&bytes), expected, "{:?}", String::from_utf8_lossy(&bytes));
    }
    let notes = parse(b"t_s;kv;ua\n0;5,0;1,5\n").expect("it is not ambiguous").notes;
    assert_eq!(notes, [ReadingsNote::DecimalCommas]);
}

#[test]
fn headers() {
    check("", &["1: write the header `t_s,kv,ua` and the readings"]);
    check("t_s,kv,ua\n", &["1: write the readings below the header"]);
    check("0,5,1\n60,5,1\n", &["1: write the header `t_s,kv,ua` as the first line"]);
    check("t_s,v,ua\n0,5000,1\n", &["1: column `v`: write `kv` and divide by 1000"]);
    check(
        "t_s,kV,uA\n0,5,1\n",
        &[
            "1: column `kV`: write `kv` — the unit is right",
            "1: column `uA`: write `ua` — the unit is right",
        ],
    );
    check("t_s,kv,mA\n0,5,1\n", &["1: column `mA`: write `ua` and multiply by 1000"]);
    check("t_s,kv,nA\n0,5,1\n", &["1: column `nA`: write `ua` and divide by 1000"]);
    check("t_s,kv,I (µA)\n0,5,1\n", &["1: column `I (µA)`: write `ua` — the unit is right"]);
    check("t_min,kv,ua\n0,5,1\n", &["1: column `t_min`: write `t_s` and multiply by 60"]);
    check("time,kv,ua\n0,5,1\n", &["1: column `time`: write `t_s` with values"]);
    check("t_s,kv\n0,5\n", &["1: add column `ua`"]);
    check("t_s,kv,kv,ua\n0,5,5,1\n", &["1: keep one column `kv`"]);
    check("t_s,kv,ua,evnt\n0,5,1,\n", &["1: write `event` — column `evnt`"]);
    check("t_s,kv,ua,qqqqq\n0,5,1,\n", &["1: remove column `qqqqq`"]);
    check("t_s,kv,ua,range_v\n0,5,1,\n", &["1: column `range_v`: write `range_kv` and divide"]);
    check("t_s,kv,ua,\n0,5,1,\n", &["1: name column 4"]);
}

#[test]
fn numbers() {
    check("t_s,kv,ua\n0,5,0,1,2\n", &["2: write 3 fields as the header does"]);
    check("t_s,kv,ua\n0,\"5,0\",1\n", &["2: write `5.0` in `kv`"]);
    check("t_s;kv;ua\n0;5,000;1\n", &["2: write `5.000` or `5000` in `kv`"]);
    check("t_s;kv;ua\n0;5,0;1.5\n", &["2: write `5.0` in `kv`"]);
    check(
        "t_s,kv,ua\n0,NaN,1\n1,inf,1\n2,5,\n3,x,1\n",
        &[
            "2: write the reading in `kv`, 9.9E37",
            "3: write the reading in `kv`, 9.9E37",
            "4: write the reading in `ua`, or remove",
            "5: write a number without unit in `kv` — found `x`",
        ],
    );
    check("t_s,kv,ua\n0,15000,1\n", &["2: write `15` in `kv` if you meant 15000 V"]);
    check("t_s,kv,ua,range_ua\n0,5,1,0\n", &["2: write the full scale in `range_ua`"]);
    check("t_s,kv,ua,event\n0,5,1,hodl\n", &["2: write `hold`, or another of rise, hold"]);
    check("t_s,kv,ua\n-1,5,1\n", &["2: count `t_s` in seconds from energising"]);
    check("t_s,kv,ua\n1793000000,5,1\n", &["2: count `t_s` in seconds from energising"]);
    check("t_s,kv,ua\n9.9E37,5,1\n", &["2: write the number in `t_s`"]);
    check("t_s,kv,ua,range_kv\n0,5,1,OL\n", &["2: write the number in `range_kv`"]);
}

#[test]
fn overload_keeps_the_row_without_the_value() {
    let rows = parse(b"t_s,kv,ua\n0,5,9.9E37\n").expect("an overload is a reading").rows;
    assert!(rows[0].reading.overload && rows[0].reading.current.is_none());
    assert_eq!(rows[0].reading.voltage, Some(quantity::Voltage::from_kilovolts(5.0)));
}

#[test]
fn an_event_alone_needs_no_values() {
    let rows = parse(b"t_s,kv,ua,event\n0,5,1,\n9,,,Trip\n").expect("events stand alone").rows;
    assert_eq!(rows[1].event, Some(Happening::Trip));
    assert_eq!(rows[1].reading.voltage, None);
    assert!(!rows[1].reading.overload);
}

#[test]
fn digits_are_kept() {
    let rows = parse(b"t_s,kv,ua\n0,5.0,120\n").expect("plain numbers").rows;
    let half = rows[0].reading.voltage_half_digit.map(|half| half.kilovolts());
    assert!(half.is_some_and(|half| (half - 0.05).abs() < 1e-12));
    let half = rows[0].reading.current_half_digit.map(|half| half.microamperes());
    assert!(half.is_some_and(|half| (half - 0.5).abs() < 1e-12));
}

#[test]
fn time_restarts_only_where_it_may() {
    let check_starts = |text: &str, expected: &[bool]| {
        let rows = parse(text.as_bytes()).unwrap_or_else(|faults| panic!("{faults:?}")).rows;
        assert_eq!(rows.iter().map(|row| row.energised).collect::<Vec<_>>(), expected, "{text}");
    };
    let head = "t_s,kv,ua,phase,event\n";
    check_starts(
        &format!("{head}0,5,1,A,\n9,5,1,A,\n0,5,1,B,\n9,5,1,A,\n"),
        &[true, false, true, false],
    );
    check_starts(&format!("{head}0,5,1,A,\n9,0,0,A,ground\n0,5,1,A,\n"), &[true, false, true]);
    check_starts(&format!("{head}9,5,1,A,blank\n0,5,1,A,\n"), &[true, true]);
    check("t_s,kv,ua\n0,5,1\n60,5,1\n30,5,1\n40,5,1\n", &["4: sort the lines by `t_s`"]);
    check("t_s,kv,ua,event\n0,5,1,\n9,0,0,ground\n0,5,1,\n9,5,1,\n3,5,1,\n", &["6: sort"]);
}

#[test]
fn signs() {
    let readings = parse(b"t_s,kv,ua\n0,-5,-1\n9,-5,0\n").expect("wholly negative");
    assert!(readings.rows.iter().all(|row| row.reading.negative));
    assert_eq!(values(b"t_s,kv,ua\n0,-5,-1\n"), [(0.0, Some(5.0), Some(1.0))]);
    check("t_s,kv,ua\n0,5,1\n1,5,1\n2,-5,1\n", &["4: write all readings with one sign"]);
    check("t_s,kv,ua\n0,-5,1\n1,-5,-1\n", &["2: write all readings with one sign"]);
    let blank = parse(b"t_s,kv,ua,event\n0,5,0.02,blank\n9,5,-0.01,blank\n").expect("noise");
    assert_eq!(blank.rows[1].reading.current, Some(quantity::Current::from_microamperes(-0.01)));
    let fall = b"t_s,kv,ua\n0,5,1\n9,4,-9\n10,0,-3\n";
    assert_eq!(values(fall)[2], (10.0, Some(0.0), Some(-3.0)));
    let down = parse(b"t_s,kv,ua,event\n0,5,1,\n9,5,-2,down\n10,1,-1,\n").expect("flows back");
    assert_eq!(down.rows[2].reading.current, Some(quantity::Current::from_microamperes(-1.0)));
}

#[test]
fn what_is_no_readings_file() {
    check("t_s,kv,ua\n0,5,\"1\n", &["2: close the quotes"]);
    check("t_s,kv,ua\0\n", &["1: save the file as plain text (UTF-8)"]);
    assert_eq!(said(b"\x89PNG\r\n\x1a\n\0\0").len(), 1);
    check(&format!("t_s,kv,ua\n{}\n", "1".repeat(20_000)), &["2: write one reading a line"]);
    let mut many = "t_s,kv,ua\n".to_owned();
    many.push_str(&"0,5,1\n".repeat(ROW_LIMIT + 1));
    check(&many, &["500002: split the file by phase or keep fewer readings"]);
    let wrong = format!("t_s,kv,ua\n{}", "x,y,z\n".repeat(5000));
    assert!(said(wrong.as_bytes()).len() < FAULT_LIMIT + 10);
}

#[test]
fn phases_are_held_against_the_conductors() {
    let readings = parse(b"t_s,kv,ua,phase\n0,5,1,A\n0,5,1,D\n9,5,1,D\n").expect("well formed");
    let conductors = ["A", "B", "C"].map(str::to_owned);
    let faults = readings.check_phases(&conductors).expect_err("there is no D");
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].line, 3);
    assert!(faults[0].to_string().starts_with("write phase A or B or C"));
    assert_eq!(readings.check_phases(&["A", "D"].map(str::to_owned)), Ok(()));
}

#[test]
fn the_schema_names_every_column() {
    let schema = json_schema();
    for column in COLUMNS {
        assert!(schema["properties"][column.path].is_object(), "{}", column.path);
    }
    assert_eq!(schema["required"], serde_json::json!(["t_s", "kv", "ua"]));
}
