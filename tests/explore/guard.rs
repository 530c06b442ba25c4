//! Who is answered, and what the program survives.

use super::server::{Server, folder};
use serde_json::json;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

const FORBIDDEN: u16 = 403;
const UNKNOWN: u16 = 404;
const TOO_LONG: u16 = 413;
const REFUSED: u16 = 422;

/// The page's own headers with one in place of another, or without it.
fn with(server: &Server, name: &str, value: Option<&str>) -> Vec<(&'static str, String)> {
    let mut headers = server.own();
    match value {
        Some(value) => headers.iter_mut().filter(|(key, _)| *key == name).for_each(|(_, own)| *own = value.to_owned()),
        None => headers.retain(|(key, _)| *key != name),
    }
    headers
}

#[test]
fn only_the_page_on_this_computer_is_answered() {
    let folder = folder();
    let server = Server::start(&folder);
    let get = |path: &str, headers: &[(&str, String)]| server.request("GET", path, headers, b"").0;
    assert_eq!(get("/", &server.own()), 200);
    assert_eq!(get("/api/scenario", &server.own()), 200);
    // Another host: a foreign name that leads here.
    for host in ["evil.example", "127.0.0.1", &format!("evil.example:{}", server.port), "127.0.0.1:1"] {
        assert_eq!(get("/api/scenario", &with(&server, "Host", Some(host))), FORBIDDEN, "{host}");
    }
    assert!(matches!(get("/api/scenario", &with(&server, "Host", None)), FORBIDDEN | 400));
    // Another origin: a page in the same browser.
    let post = |headers: &[(&str, String)]| server.request("POST", "/api/command", headers, b"{}").0;
    assert_eq!(post(&server.own()), 200);
    for origin in ["http://evil.example", "null", "https://127.0.0.1"] {
        let headers = [server.own(), vec![("Origin", origin.to_owned())]].concat();
        assert_eq!(post(&headers), FORBIDDEN, "{origin}");
    }
    let own = [server.own(), vec![("Origin", format!("http://127.0.0.1:{}", server.port))]].concat();
    assert_eq!(post(&own), 200);
    // No secret, in the cookie or in the header.
    for name in ["Cookie", "X-Motefall-Token"] {
        assert_eq!(post(&with(&server, name, None)), FORBIDDEN, "{name}");
        assert_eq!(post(&with(&server, name, Some("motefall=1"))), FORBIDDEN, "{name}");
    }
    assert_eq!(get("/", &with(&server, "Cookie", None)), FORBIDDEN);
    let host = [("Host", format!("127.0.0.1:{}", server.port))];
    assert_eq!(get(&format!("/?token={}", server.token), &host), 200);
    assert_eq!(get(&format!("/?token={}x", server.token), &host), FORBIDDEN);
    for method in ["PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"] {
        assert_eq!(server.request(method, "/api/command", &server.own(), b"").0, 405, "{method}");
    }
}

#[test]
fn no_request_reaches_a_file_outside_of_a_result() {
    let folder = folder();
    let server = Server::start(&folder);
    let outside = [
        "/../pad.toml",
        "/pad.toml",
        "/page/../pad.toml",
        "/page/..%2f..%2fpad.toml",
        "/result/1/../pad.toml",
        "/result/1//etc/passwd",
        "/result/1/..%2f..%2fpad.toml",
        "/sheet/../pad.toml",
        "/sheet/99999999999999999999",
        "//etc/passwd",
        "/api/result/0",
        "/api/none",
    ];
    for path in outside {
        assert_eq!(server.request("GET", path, &server.own(), b"").0, UNKNOWN, "{path}");
    }
    for name in ["../outside.toml", "a/b.toml", "/tmp/x.toml", "..", "", ".hidden", "a\\b"] {
        assert_eq!(server.ask("save", &json!({ "values": {}, "name": name })).0, 400, "{name}");
    }
    // What is there is never replaced.
    assert_eq!(server.ask("save", &json!({ "values": {}, "name": "pad.toml" })).0, 409);
    assert_eq!(std::fs::read_dir(folder.path()).expect("the folder").count(), 1, "nothing else was written");
}

#[test]
fn nonsense_is_refused_and_survived() {
    let folder = folder();
    let mut server = Server::start(&folder);
    for body in
        ["", "{", "[]", "null", "{\"values\": 3}", "{\"values\": {\"a\": \"b\"}}", "{\"values\": {\"a\": 1e999}}"]
    {
        for what in ["map", "expected", "prints", "print", "knobs", "save", "sweep", "advice", "stop", "report"] {
            let (status, _) = server.request("POST", &format!("/api/{what}"), &server.own(), body.as_bytes());
            assert!(matches!(status, 400 | 404 | REFUSED), "{what} {body}: {status}");
        }
    }
    let bad = [(1, json!({ "no.key": 1 }), "map"), (2, json!({ "flow.sheath_sccm": -1 }), "expected")];
    for (number, values, what) in bad {
        let (status, told) = server.ask(what, &json!({ "values": values, "ask": number }));
        assert_eq!(status, REFUSED, "{told}");
    }
    // Windows and pixels of any size.
    for window in
        [json!([0, 0, 0, 0]), json!([1e300, 0, -1e300, 1]), json!([0, 0, 1e-9, 1e6]), json!([-1e9, -1e9, 1e9, 1e9])]
    {
        let question = json!({ "values": {}, "ask": 3, "window": window, "pixels": 1e12 });
        let (status, body) = server.request("POST", "/api/map", &server.own(), question.to_string().as_bytes());
        assert!(status == 200 && body.len() < 10_000_000, "{window}: {status}, {} bytes", body.len());
    }
    assert_eq!(server.ask("prints", &json!({ "values": {}, "ask": 4, "upto": u32::MAX })).0, 200);
    assert!(server.runs());
}

#[test]
fn a_body_of_100_mb_is_refused_and_survived() {
    let folder = folder();
    let mut server = Server::start(&folder);
    let (status, _) = server.request("POST", "/api/command", &server.own(), &vec![b' '; 100_000_000]);
    // The connection may be closed before the refusal is read.
    assert!(matches!(status, TOO_LONG | 0), "{status}");
    assert_eq!(server.ask("command", &json!({})).0, 200);
    assert!(server.runs());
}

#[test]
fn a_thousand_half_open_connections_are_survived() {
    let folder = folder();
    let mut server = Server::start(&folder);
    let open: Vec<TcpStream> = (0..1000)
        .filter_map(|_| {
            let mut stream = TcpStream::connect(("127.0.0.1", server.port)).ok()?;
            stream.write_all(b"GET / HTTP/1.1\r\nHost: 127.").ok()?;
            Some(stream)
        })
        .collect();
    assert!(open.len() > 900, "only {} could be opened", open.len());
    // They are given up after a while, so that the page is answered again.
    let began = Instant::now();
    while server.ask("command", &json!({})).0 != 200 {
        assert!(began.elapsed() < Duration::from_secs(60), "nobody is answered");
    }
    let mut last = open.into_iter().next_back().expect("one");
    last.set_read_timeout(Some(Duration::from_secs(60))).expect("a time");
    let mut rest = vec![];
    let _ = last.read_to_end(&mut rest);
    assert!(server.runs());
}

#[test]
fn two_pages_with_settings_of_their_own_do_not_stop_each_other() {
    let folder = folder();
    let server = Server::start(&folder);
    let ask = |page: &str, number: u64, sheath: u32| {
        let headers = [server.own(), vec![("X-Motefall-Page", page.to_owned())]].concat();
        let question = json!({ "values": { "flow.sheath_sccm": sheath }, "ask": number });
        server.request("POST", "/api/expected", &headers, question.to_string().as_bytes()).0
    };
    assert_eq!([ask("a", 5, 30), ask("b", 1, 50), ask("a", 6, 30), ask("b", 2, 50)], [200; 4]);
    // Of one page, a question that a newer one about another setting has overtaken is dropped.
    assert_eq!([ask("a", 7, 31), ask("a", 6, 30), ask("a", 8, 30)], [200, 409, 200]);
}
