//! Who may ask: the page that this program opened, on this computer.
//!
//! Other pages in the same browser can send requests here, too. They know neither the secret in the page's address, nor do they get the
//! cookie sent along, nor can they read the page that holds the secret of the header. A foreign name that leads to this address is not among
//! the hosts that are answered.

use axum::http::{HeaderMap, Method, Uri, header};

/// Header with the secret, which every changing request bears.
pub(super) const TOKEN_HEADER: &str = "x-motefall-token";

/// What a request is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Allowed {
    /// To be answered.
    Yes,
    /// To be given the page with its cookie: its address bears the secret.
    Entry,
    /// Nothing, with this status.
    No(u16),
}

/// Knows what the page knows.
#[derive(Debug, Clone)]
pub(super) struct Guard {
    port: u16,
    token: String,
}

/// A new secret: 32 random bytes in hexadecimal digits.
pub(super) fn new_token() -> Result<String, getrandom::Error> {
    let mut bytes = [0u8; 32];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

impl Guard {
    pub(super) fn new(port: u16, token: String) -> Self {
        Self { port, token }
    }

    /// The secret, for the page.
    pub(super) fn token(&self) -> &str {
        &self.token
    }

    /// The cookie that the page's requests bear. Cookies do not know ports, so its name does.
    pub(super) fn cookie(&self) -> String {
        format!("{}={}; Path=/; HttpOnly; SameSite=Strict", self.cookie_name(), self.token)
    }

    fn cookie_name(&self) -> String {
        format!("motefall-{}", self.port)
    }

    /// Looks at a request before anything is done for it.
    pub(super) fn look(&self, method: &Method, uri: &Uri, headers: &HeaderMap) -> Allowed {
        let hosts = ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", self.port));
        let Some(host) = only(headers, header::HOST.as_str()).filter(|host| hosts.iter().any(|own| own == host)) else {
            return Allowed::No(403);
        };
        // A request may bear no origin, but not another one.
        let origin = format!("http://{host}");
        if headers.contains_key(header::ORIGIN) && only(headers, header::ORIGIN.as_str()) != Some(&origin) {
            return Allowed::No(403);
        }
        match *method {
            Method::GET if uri.path() == "/" && self.bears_token(uri) => Allowed::Entry,
            Method::GET if self.bears_cookie(headers) => Allowed::Yes,
            Method::POST if self.bears_cookie(headers) && self.is_token(only(headers, TOKEN_HEADER)) => Allowed::Yes,
            Method::GET | Method::POST => Allowed::No(403),
            _ => Allowed::No(405),
        }
    }

    fn bears_token(&self, uri: &Uri) -> bool {
        uri.query().and_then(|query| query.strip_prefix("token=")).is_some_and(|token| self.is_token(Some(token)))
    }

    fn bears_cookie(&self, headers: &HeaderMap) -> bool {
        let name = self.cookie_name();
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        cookies
            .flat_map(|line| line.split(';'))
            .filter_map(|cookie| cookie.trim().split_once('='))
            .any(|(key, value)| key == name && self.is_token(Some(value)))
    }

    /// Compares in a time that does not tell how much is right.
    fn is_token(&self, token: Option<&str>) -> bool {
        let Some(token) = token.filter(|token| token.len() == self.token.len()) else { return false };
        token.bytes().zip(self.token.bytes()).fold(0, |sum, (a, b)| sum | (a ^ b)) == 0
    }
}

/// The value of a header that stands there once.
fn only<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let mut all = headers.get_all(name).iter();
    let value = all.next()?.to_str().ok()?;
    all.next().is_none().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOKEN: &str = "0123abcd";

    fn look(method: Method, uri: &str, headers: &[(&str, &str)]) -> Allowed {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(axum::http::HeaderName::try_from(*name).expect("a name"), value.parse().expect("a value"));
        }
        Guard::new(8000, TOKEN.to_owned()).look(&method, &uri.parse().expect("an address"), &map)
    }

    const HOST: (&str, &str) = ("host", "127.0.0.1:8000");
    const COOKIE: (&str, &str) = ("cookie", "a=b; motefall-8000=0123abcd");
    const HEADER: (&str, &str) = (TOKEN_HEADER, TOKEN);

    #[test]
    fn the_page_is_answered() {
        assert_eq!(look(Method::GET, "/?token=0123abcd", &[HOST]), Allowed::Entry);
        assert_eq!(look(Method::GET, "/page/main.js", &[("host", "localhost:8000"), COOKIE]), Allowed::Yes);
        assert_eq!(look(Method::POST, "/api/map", &[HOST, COOKIE, HEADER]), Allowed::Yes);
        let own = ("origin", "http://127.0.0.1:8000");
        assert_eq!(look(Method::POST, "/api/map", &[HOST, own, COOKIE, HEADER]), Allowed::Yes);
    }

    #[test]
    fn nobody_else_is() {
        let no = |status| Allowed::No(status);
        for host in ["", "evil.example", "127.0.0.1", "127.0.0.1:8001", "localhost:8000.evil.example", "LOCALHOST:8000"]
        {
            assert_eq!(look(Method::GET, "/?token=0123abcd", &[("host", host)]), no(403), "{host}");
        }
        assert_eq!(look(Method::GET, "/?token=0123abcd", &[]), no(403));
        assert_eq!(look(Method::GET, "/?token=0123abcd", &[HOST, HOST]), no(403));
        for origin in ["null", "http://localhost:8000", "https://127.0.0.1:8000", "http://evil.example"] {
            assert_eq!(
                look(Method::POST, "/api/map", &[HOST, ("origin", origin), COOKIE, HEADER]),
                no(403),
                "{origin}"
            );
        }
        for uri in ["/", "/?token=", "/?token=0123abce", "/?token=0123abcd0", "/page/main.js?token=0123abcd"] {
            assert_eq!(look(Method::GET, uri, &[HOST]), no(403), "{uri}");
        }
        for cookie in ["motefall-8000=0123abce", "motefall-8001=0123abcd", "motefall-8000=", "0123abcd"] {
            assert_eq!(look(Method::GET, "/", &[HOST, ("cookie", cookie)]), no(403), "{cookie}");
        }
        assert_eq!(look(Method::POST, "/api/map", &[HOST, COOKIE]), no(403));
        assert_eq!(look(Method::POST, "/api/map", &[HOST, HEADER]), no(403));
        assert_eq!(look(Method::POST, "/api/map", &[HOST, COOKIE, (TOKEN_HEADER, "0123abce")]), no(403));
        assert_eq!(look(Method::DELETE, "/", &[HOST, COOKIE, HEADER]), no(405));
        assert_eq!(look(Method::OPTIONS, "/api/map", &[HOST]), no(405));
    }

    #[test]
    fn secrets_differ() {
        let [a, b] = [(); 2].map(|()| new_token().expect("random bytes"));
        assert!(a.len() == 64 && a != b);
    }
}
