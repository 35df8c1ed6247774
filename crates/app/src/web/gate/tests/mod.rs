//! The gate, seen over a real socket. Who comes to this machine by a name that is not its own for
//! itself (`bench.test`) is treated as one who comes from elsewhere.

mod bench;
mod entering;
mod pressing;
mod routes;

use bench::{AWAY, Bench, HERE};
use store::people::May;

#[test]
fn a_name_that_is_not_of_this_machine_is_refused() {
    let bench = Bench::new();
    let check = |hosts: &str, expected: u16| {
        let answer = bench.ask(&format!("GET / HTTP/1.1\r\n{hosts}Connection: close\r\n\r\n"));
        assert_eq!(answer.status, expected, "{hosts:?}\n{}", answer.text);
    };
    check("Host: evil.test\r\n", 421);
    check("Host: 192.0.2.77\r\n", 421);
    check("Host: localhost.evil.test\r\n", 421);
    check("Host: localhost:1\r\n", 200);
    check("Host: 127.0.0.1\r\n", 200);
    check("", 400);
    check("Host: localhost\r\nHost: evil.test\r\n", 400);
    let absolute = "GET http://evil.test/ HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    assert_eq!(bench.ask(absolute).status, 421);
    let told = bench.get(AWAY, "/login");
    assert_eq!(told.status, 200);
    let refused = bench.get("evil.test", "/");
    assert!(refused.text.contains("<h1>Open this program by the address"), "{}", refused.text);
}

#[test]
fn a_form_of_another_site_changes_nothing() {
    let bench = Bench::new();
    let check = |lines: &str, expected: u16| {
        let answer = bench.post(HERE, "/people/who", lines, "name=Jo");
        assert_eq!(answer.status, expected, "{lines:?}\n{}", answer.text);
    };
    check("Origin: http://evil.test\r\n", 403);
    check("Origin: null\r\n", 403);
    check("Sec-Fetch-Site: cross-site\r\nOrigin: http://evil.test\r\n", 403);
    check("Sec-Fetch-Site: same-site\r\n", 403);
    check("Sec-Fetch-Site: same-origin\r\nOrigin: http://localhost\r\n", 303);
    check("Origin: http://localhost\r\n", 303);
    check("", 303);
}

#[test]
fn a_socket_of_another_site_is_refused_and_one_of_ours_opened() {
    let bench = Bench::new();
    let check = |lines: &str, expected: u16| {
        assert_eq!(bench.socket(HERE, "/live", lines).status, expected, "{lines:?}");
    };
    check("Origin: http://evil.test\r\n", 403);
    check("Origin: http://localhost:1\r\n", 403);
    check("Sec-Fetch-Site: cross-site\r\n", 403);
    check("Origin: http://localhost\r\n", 101);
    let away = bench.socket(AWAY, "/live", "Origin: http://bench.test\r\n");
    assert_eq!(away.status, 403, "no pass");
    let pass = bench.pass(May::Watch);
    let lines = format!("Origin: http://bench.test\r\n{}", bench.cookie(&pass));
    assert_eq!(bench.socket(AWAY, "/live", &lines).status, 101);
}

#[test]
fn every_answer_says_what_the_browser_must_leave_alone() {
    let bench = Bench::new();
    let answers = [
        bench.get(HERE, "/"),
        bench.get(HERE, "/people"),
        bench.get(HERE, "/nowhere"),
        bench.get("evil.test", "/"),
        bench.get(AWAY, "/"),
        bench.get(AWAY, "/login"),
        bench.post(HERE, "/people/who", "Origin: http://evil.test\r\n", "name=Jo"),
    ];
    for answer in answers {
        let has = |name: &str, part: &str| {
            let found = answer.header(name).unwrap_or_default();
            assert!(found.contains(part), "{}: {name}: {found}", answer.text);
        };
        has("content-security-policy", "default-src 'none'; script-src 'self'; style-src 'self';");
        has("content-security-policy", "frame-ancestors 'none'; base-uri 'none'");
        has("x-content-type-options", "nosniff");
        has("referrer-policy", "same-origin");
        has("cross-origin-opener-policy", "same-origin");
        has("permissions-policy", "camera=()");
        has("cache-control", "no-store");
    }
}

#[test]
fn pages_and_styles_travel_small() {
    let bench = Bench::new();
    let page = bench.get(HERE, "/");
    let at = page.text.find("/assets/").expect("the page has a style");
    let style = page.text[at..].split('"').next().expect("an address");
    let plain = bench.get(HERE, style);
    assert_eq!((plain.status, plain.header("content-encoding")), (200, None));
    assert!(plain.header("cache-control").is_some_and(|keep| keep.contains("immutable")));
    let small = bench.ask(&format!(
        "GET {style} HTTP/1.1\r\nHost: {HERE}\r\nAccept-Encoding: gzip\r\nConnection: close\r\n\r\n"
    ));
    assert_eq!(small.header("content-encoding"), Some("gzip"));
    assert!(small.length * 2 < plain.length, "{} {}", small.length, plain.length);
}

#[test]
fn nothing_beside_the_styles_is_read_from_the_disk() {
    let bench = Bench::new();
    let kept = std::fs::read_to_string("/etc/passwd").unwrap_or_default();
    for path in [
        "/assets/x/../../../../etc/passwd",
        "/assets/../../etc/passwd",
        "/assets/x/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/assets/x//etc/passwd",
        "/assets/x/..%5c..%5cetc%5cpasswd",
        "/assets/x/screen.css%00.js",
    ] {
        let answer = bench.get(AWAY, path);
        assert_eq!(answer.status, 404, "{path}");
        assert!(kept.is_empty() || !answer.text.contains(kept.trim()), "{path}");
    }
}

#[test]
fn what_another_program_passed_on_is_not_of_someone_here() {
    let bench = Bench::new();
    for line in
        ["X-Forwarded-For: 192.0.2.7", "Forwarded: for=192.0.2.7", "Via: 1.1 a", "X-Real-IP: b"]
    {
        let answer = bench
            .ask(&format!("GET / HTTP/1.1\r\nHost: {HERE}\r\n{line}\r\nConnection: close\r\n\r\n"));
        assert_eq!(answer.status, 403, "{line}");
    }
    let behind = Bench::behind_tls();
    assert_eq!(behind.get(HERE, "/").status, 403, "behind TLS nobody is here");
    let pass = behind.pass(May::Operate);
    assert!(behind.cookie(&pass).contains("__Host-pass="));
    assert_eq!(behind.get_with(HERE, "/", &behind.cookie(&pass)).status, 200);
}
