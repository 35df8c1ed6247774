//! Loggers of the air beside a test: kept with their time, told once when they are away.

use std::io::Read as _;
use std::net::TcpListener;

use super::*;

/// Answers each request for one register with a count by its number; gives the port.
/// The bytes are those of the specification (Modbus Application Protocol V1.1b3, 6.3; from memory,
/// unverified).
fn peer() -> u16 {
    let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
    let port = listener.local_addr().expect("bound").port();
    std::thread::spawn(move || {
        for mut client in listener.incoming().flatten() {
            let mut asked = [0; 12];
            if client.read_exact(&mut asked).is_err() {
                continue;
            }
            let count: u16 = if asked[9] == 0 { 213 } else { 475 };
            let [high, low] = count.to_be_bytes();
            let answer = [asked[0], asked[1], 0, 0, 0, 5, asked[6], asked[7], 2, high, low];
            client.write_all(&answer).expect("it listens");
        }
    });
    port
}

#[test]
fn the_air_is_kept_beside_the_readings() {
    let place = Place::new("loggers");
    let port = peer();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut job = fs::read_to_string(root.join(GLOVES)).expect("the example is there");
    let away = {
        let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a free port");
        listener.local_addr().expect("bound").port()
    };
    for (reads, port, register) in
        [("temperature", port, 0), ("humidity", port, 1), ("humidity", away, 2)]
    {
        job += &format!(
            "\n[[logger]]\nreads = \"{reads}\"\naddress = \"tcp:127.0.0.1:{port}\"\n\
             register = {register}\ninput = true\n"
        );
    }
    fs::write(place.path("job.toml"), job).expect("it can be written");
    let path = place.path("job.toml");
    let mut command = place.command(&["run", &path, "--from", "keys", "--json"]);
    let command = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().expect("the program was built for this test");
    let mut pipe = child.stdin.take().expect("piped");
    let mut out = BufReader::new(child.stdout.take().expect("piped")).lines();
    // The record begins, and each of the three tells something: four acknowledgements at the least.
    let mut kept = 0;
    while kept < 4 {
        let line = out.next().expect("it goes on").expect("text");
        let line: Value = serde_json::from_str(&line).expect("JSON");
        kept = line["kept"].as_u64().unwrap_or(kept);
    }
    writeln!(pipe, "0 0 0").expect("it listens");
    drop(pipe);
    for line in out {
        line.expect("text");
    }
    let mut told = String::new();
    child.stderr.take().expect("piped").read_to_string(&mut told).expect("text");
    child.wait().expect("it ends");
    assert!(told.contains("Read the air yourself"), "{told}");
    let record = place.record();
    let beside: Vec<_> = record
        .events
        .iter()
        .filter_map(
            |entry| if let Event::Beside(one) = &entry.what { Some(one.clone()) } else { None },
        )
        .collect();
    let celsius = beside.iter().find_map(|one| one.temperature_c).map(|c| c.celsius());
    let percent = beside.iter().find_map(|one| one.humidity_percent).map(|share| share.percent());
    // Counts of a tenth: 213 and 475.
    assert!(celsius.is_some_and(|c| (c - 21.3).abs() < 1e-9), "{celsius:?}");
    assert!(percent.is_some_and(|percent| (percent - 47.5).abs() < 1e-9), "{percent:?}");
    assert_eq!(beside.len(), 3, "{beside:?}");
}
