//! Every address of the router, asked for by those who may not.

use store::people::May;

use super::bench::{AWAY, Bench};
use crate::web::router;

/// The addresses that the router has, read off its own account of itself; whoever adds one finds
/// it shut.
fn addresses(bench: &Bench) -> Vec<String> {
    let account = format!("{:?}", router(bench.house.clone()));
    let mut found: Vec<String> = account
        .split('"')
        .filter(|part| part.starts_with('/') && !part.contains("__private__"))
        .map(|path| path.replace(['{', '}'], ""))
        .collect();
    found.sort();
    found.dedup();
    for known in
        ["/", "/live", "/login", "/people/pair", "/sheet/id", "/sheet/id/say", "/far/id/here"]
    {
        assert!(found.iter().any(|path| path == known), "{known} is not in {account}");
    }
    found
}

/// What anyone may ask for.
fn is_open(path: &str) -> bool {
    ["/login", "/pair", "/exchange/pair", "/healthz", "/readyz", "/assets/edition/name"]
        .contains(&path)
}

#[test]
fn a_stranger_gets_the_login_and_nothing_else() {
    let bench = Bench::new();
    let mut all = addresses(&bench);
    all.push("/nowhere".to_owned());
    for path in all.iter().filter(|path| !is_open(path)) {
        let read = bench.get_with(AWAY, path, "Accept: text/html\r\n");
        assert_eq!(read.status, 303, "GET {path}");
        assert!(read.header("location").is_some_and(|to| to.starts_with("/login?after=%2F")));
        assert_eq!(bench.get(AWAY, path).status, 403, "GET {path} by a program");
        for method in ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "HEAD", "MOVE"] {
            let answer = bench.send(method, AWAY, path, "", "");
            assert_eq!(answer.status, 403, "{method} {path}");
        }
        assert_eq!(bench.socket(AWAY, path, "").status, 403, "a socket at {path}");
        let wrong = format!("Cookie: pass={}\r\n", "0".repeat(64));
        assert_eq!(bench.get_with(AWAY, path, &wrong).status, 403, "{path} with no such pass");
    }
    assert_eq!(bench.get(AWAY, "/login").status, 200);
    assert_eq!(bench.get(AWAY, "/pair").status, 200);
}

#[test]
fn who_may_watch_changes_nothing_and_who_may_say_lets_nobody_in() {
    let bench = Bench::new();
    let watch = bench.cookie(&bench.pass(May::Watch));
    let say = bench.cookie(&bench.pass(May::Say));
    let far_end = bench.cookie(&bench.pass(May::FarEnd));
    let operate = bench.cookie(&bench.pass(May::Operate));
    let all = addresses(&bench);
    for path in all.iter().filter(|path| !is_open(path) && *path != "/logout") {
        for method in ["POST", "PUT", "DELETE"] {
            assert_eq!(bench.send(method, AWAY, path, &watch, "").status, 403, "{method} {path}");
            let by_far_end = bench.send(method, AWAY, path, &far_end, "").status;
            assert_eq!(by_far_end != 403, path.starts_with("/far/"), "{method} {path}");
            let by_say = bench.send(method, AWAY, path, &say, "").status;
            let of_all = ["/people/", "/exchange/", "/office/"];
            let is_shut = of_all.iter().any(|begin| path.starts_with(begin));
            assert_eq!(by_say == 403, is_shut, "{method} {path}: {by_say}");
            let by_all = bench.send(method, AWAY, path, &operate, "").status;
            assert_ne!(by_all, 403, "{method} {path}");
        }
    }
    let begun = |cookie: &str| bench.get_with(AWAY, "/sheet/new", cookie).status;
    assert_eq!((begun(&watch), begun(&say)), (403, 303), "a sheet is begun by a link");
    assert_eq!(begun(&far_end), 403);
    for cookie in [&watch, &say, &operate] {
        assert_eq!(bench.get_with(AWAY, "/", cookie).status, 200);
    }
    let only = |cookie: &str| bench.get_with(AWAY, "/", cookie).text.contains("may watch only");
    assert!(only(&watch) && !only(&say) && !only(&far_end));
    let guards = bench.get_with(AWAY, "/", &far_end);
    assert!(guards.text.contains("answers for the far end"), "{}", guards.text);
    let own = bench.get_with(AWAY, "/people", &say);
    assert!(own.text.contains("Log this device out") && !own.text.contains("Take back"));
    assert!(bench.get_with(AWAY, "/people", &operate).text.contains("Take back"));
}

#[test]
fn a_laptop_exchanges_records_and_sees_no_page() {
    let bench = Bench::new();
    let carried = bench.pass(May::Exchange);
    let token = crate::web::secret::text(&carried.token);
    let header = format!("Authorization: Bearer {token}\r\n");
    let all = addresses(&bench);
    for path in all.iter().filter(|path| !is_open(path)) {
        let status = bench.get_with(AWAY, path, &header).status;
        let may = path.starts_with("/exchange/") || path == "/metrics";
        assert_eq!(status != 403, may, "GET {path}: {status}");
        let status = bench.send("POST", AWAY, path, &header, "").status;
        assert_eq!(status != 403, may, "POST {path}: {status}");
        assert_ne!(bench.socket(AWAY, path, &header).status, 101, "a socket at {path}");
    }
    assert_eq!(bench.get_with(AWAY, "/exchange/hello", &header).status, 200);
    // As a cookie it is nothing, and what a browser carries is nothing as a header.
    assert_eq!(bench.get_with(AWAY, "/exchange/hello", &bench.cookie(&carried)).status, 403);
    let operate = crate::web::secret::text(&bench.pass(May::Operate).token);
    let borne = format!("Authorization: Bearer {operate}\r\n");
    assert_eq!(bench.get_with(AWAY, "/exchange/hello", &borne).status, 403);
    // No page of another site has a browser ask either.
    let foreign = format!("{header}Origin: http://evil.test\r\nSec-Fetch-Site: cross-site\r\n");
    assert_eq!(bench.post(AWAY, "/exchange/take", &foreign, "{}").status, 403);
    let large = format!("{header}Content-Length: 40000000\r\n");
    let head = format!("POST /exchange/take HTTP/1.1\r\nHost: {AWAY}\r\n{large}\r\n");
    assert_eq!(bench.ask(&head).status, 413);
}
