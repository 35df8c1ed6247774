//! Whether a request was made by a page of this program. Forms of other sites are turned away by
//! `tower_http::csrf`; here is what that leaves: sockets, and what a page draws from elsewhere.

use axum::extract::Request;
use axum::http::header::{ORIGIN, UPGRADE};
use axum::http::{HeaderMap, Method, Uri};

use super::host::Host;

/// Asks to turn the connection into a socket.
pub(super) fn is_socket(request: &Request) -> bool {
    let upgrades = request.headers().get_all(UPGRADE).into_iter();
    upgrades
        .filter_map(|one| one.to_str().ok())
        .any(|one| one.to_ascii_lowercase().contains("websocket"))
}

/// A page of another site had the browser ask. Following a link from elsewhere is no such thing: a
/// person did, and looking changes nothing.
///
/// What no browser sends has neither header and is not held up here.
pub(super) fn is_foreign(request: &Request, host: &Host) -> bool {
    let headers = request.headers();
    let from_elsewhere = match text(headers, "sec-fetch-site") {
        None | Some("same-origin" | "none") => false,
        Some(_) => true,
    };
    if is_socket(request) {
        let origin = headers.get(ORIGIN).map(|origin| origin.to_str().unwrap_or_default());
        return from_elsewhere || origin.is_some_and(|origin| !is_of(origin, host));
    }
    let follows_link = super::looks(request)
        && text(headers, "sec-fetch-mode") == Some("navigate")
        && text(headers, "sec-fetch-dest") == Some("document");
    // Other methods are left to the layer that answers for them.
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    from_elsewhere && reads && !follows_link
}

fn is_of(origin: &str, host: &Host) -> bool {
    let origin: Option<Uri> = origin.to_ascii_lowercase().parse().ok();
    let of_page = origin.filter(|uri| matches!(uri.scheme_str(), Some("http" | "https")));
    of_page.and_then(|uri| Some(uri.authority()?.as_str() == host.text)) == Some(true)
}

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name)?.to_str().ok()
}

#[cfg(test)]
mod tests {
    use axum::body::Body;

    use super::*;

    fn asked(lines: &[(&str, &str)]) -> Request {
        let mut request = Request::builder().uri("/live").header("host", "127.0.0.1:4170");
        for (name, value) in lines {
            request = request.header(*name, *value);
        }
        request.body(Body::empty()).expect("a request")
    }

    #[test]
    fn a_socket_is_for_pages_of_this_address_alone() {
        let check = |lines: &[(&str, &str)], foreign: bool| {
            let mut all = vec![("upgrade", "WebSocket")];
            all.extend(lines);
            let request = asked(&all);
            let host = Host::of(&request).expect("a host");
            assert_eq!(is_foreign(&request, &host), foreign, "{lines:?}");
        };
        check(&[], false);
        check(&[("origin", "http://127.0.0.1:4170")], false);
        check(&[("origin", "https://127.0.0.1:4170")], false);
        check(&[("origin", "http://127.0.0.1:4171")], true);
        check(&[("origin", "http://evil.test")], true);
        check(&[("origin", "null")], true);
        check(&[("origin", "")], true);
        check(&[("origin", "http://127.0.0.1:4170"), ("sec-fetch-site", "cross-site")], true);
        check(&[("origin", "http://127.0.0.1:4170"), ("sec-fetch-site", "same-origin")], false);
    }

    #[test]
    fn a_page_of_elsewhere_may_link_here_and_no_more() {
        let check = |lines: &[(&str, &str)], foreign: bool| {
            let request = asked(lines);
            let host = Host::of(&request).expect("a host");
            assert_eq!(is_foreign(&request, &host), foreign, "{lines:?}");
        };
        let link = [("sec-fetch-mode", "navigate"), ("sec-fetch-dest", "document")];
        check(&[("sec-fetch-site", "cross-site"), link[0], link[1]], false);
        check(&[("sec-fetch-site", "cross-site"), link[0], ("sec-fetch-dest", "iframe")], true);
        check(&[("sec-fetch-site", "same-site"), ("sec-fetch-mode", "no-cors")], true);
        check(&[("sec-fetch-site", "same-origin"), ("sec-fetch-mode", "cors")], false);
        check(&[("sec-fetch-site", "none")], false);
        let mut begins = asked(&[("sec-fetch-site", "cross-site"), link[0], link[1]]);
        *begins.uri_mut() = Uri::from_static("/sheet/new");
        let host = Host::of(&begins).expect("a host");
        assert!(is_foreign(&begins, &host), "a link of elsewhere begins no sheet");
    }
}
