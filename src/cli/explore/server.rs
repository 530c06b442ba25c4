//! Connections: few at a time, each with little patience.

use super::answer::{Answer, Refusal};
use super::answers::{ask, look_up};
use super::guard::{Allowed, Guard};
use super::session::Session;
use super::{live, page};
use axum::Router;
use axum::body::{Body, Bytes, to_bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::response::{IntoResponse, Response};
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio::time::timeout;

/// Connections at a time; the next one waits.
const MOST_CONNECTIONS: usize = 512;
/// Questions under way or waiting at a time.
const MOST_QUESTIONS: usize = 32;
/// Questions about settings at work at a time.
const MOST_AT_WORK: usize = 3;
/// Largest question, bytes.
const LARGEST_BODY: usize = 1_000_000;
/// How long a head, and then a body, may take to arrive.
const PATIENCE: Duration = Duration::from_secs(4);
/// How often it is looked whether the user wants to end.
const LOOK: Duration = Duration::from_millis(100);
/// Header by which a page tells itself from others.
const PAGE_HEADER: &str = "x-motefall-page";
/// What the page may do: nothing but show itself and ask here.
const PAGE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; \
                           connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";
/// What reports may do: show themselves, which hold all they need.
const REPORT_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data: 'self'; \
                             form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// What handlers share.
#[derive(Clone)]
struct Shared {
    guard: Guard,
    session: Arc<Session>,
    /// Few questions about settings at a time: each takes all cores, and one that nobody wants any more may still take a while to notice.
    lane: Arc<Semaphore>,
    questions: Arc<Semaphore>,
}

/// Answers until `ends`.
pub(super) fn serve(
    listener: TcpListener,
    guard: Guard,
    session: Arc<Session>,
    ends: fn() -> bool,
) -> std::io::Result<()> {
    listener.set_nonblocking(true)?;
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
    let shared = Shared {
        guard,
        session,
        lane: Arc::new(Semaphore::new(MOST_AT_WORK)),
        questions: Arc::new(Semaphore::new(MOST_QUESTIONS)),
    };
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let accepting = tokio::spawn(accept(listener, Router::new().fallback(handle).with_state(shared)));
        while !ends() && !accepting.is_finished() {
            tokio::time::sleep(LOOK).await;
        }
        accepting.abort();
        std::io::Result::Ok(())
    })?;
    // What is still computed is wanted by nobody.
    runtime.shutdown_background();
    Ok(())
}

async fn accept(listener: tokio::net::TcpListener, router: Router) {
    let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(permit) = Arc::clone(&room).acquire_owned().await else { return };
        let Ok((stream, _)) = listener.accept().await else {
            // Too many open files, say: they become fewer.
            tokio::time::sleep(LOOK).await;
            continue;
        };
        let service = TowerToHyperService::new(router.clone());
        tokio::spawn(async move {
            let mut builder = http1::Builder::new();
            builder.timer(TokioTimer::new()).header_read_timeout(PATIENCE);
            // Who breaks off needs no answer.
            drop(builder.serve_connection(TokioIo::new(stream), service).await);
            drop(permit);
        });
    }
}

async fn handle(State(shared): State<Shared>, request: Request) -> Response {
    let (parts, body) = request.into_parts();
    let response = match shared.guard.look(&parts.method, &parts.uri, &parts.headers) {
        Allowed::No(status) => plain(status, "not allowed: open the address that `motefall explore` says"),
        Allowed::Entry => {
            let page = html(page::index(shared.guard.token()), PAGE_POLICY);
            ([(header::SET_COOKIE, shared.guard.cookie())], page).into_response()
        }
        Allowed::Yes if parts.method == Method::GET => get(shared, parts.uri.path().to_owned()).await,
        Allowed::Yes => post(shared, parts.uri.path().to_owned(), &parts.headers, body).await,
    };
    let safety = [
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
    ];
    (safety, response).into_response()
}

async fn get(shared: Shared, path: String) -> Response {
    if path == "/" {
        return html(page::index(shared.guard.token()), PAGE_POLICY);
    }
    if let Some(file) = path.strip_prefix("/page/").and_then(page::file) {
        return ([(header::CONTENT_TYPE, file.kind)], file.text).into_response();
    }
    let session = shared.session;
    off_the_loop(move || look_up(&session, &path)).await
}

async fn post(shared: Shared, path: String, headers: &HeaderMap, body: Body) -> Response {
    let Ok(_question) = shared.questions.try_acquire() else { return refused(&Refusal::Busy) };
    let body = match timeout(PATIENCE, to_bytes(body, LARGEST_BODY)).await {
        Err(_) => return plain(408, "the question took too long to arrive"),
        Ok(Err(_)) => return plain(413, "the question is too long"),
        Ok(Ok(body)) => body,
    };
    let Some(what) = path.strip_prefix("/api/").map(str::to_owned) else { return refused(&Refusal::Unknown) };
    let page = headers.get(PAGE_HEADER).and_then(|page| page.to_str().ok()).unwrap_or_default();
    let page: String = page.chars().take(64).collect();
    let lane = if live::is_live(&what) { shared.lane.acquire_owned().await.ok() } else { None };
    let session = shared.session;
    off_the_loop(move || {
        let answer = ask(&session, &what, &page, &body);
        drop(lane);
        answer
    })
    .await
}

/// Works an answer out on a thread that may take its time.
async fn off_the_loop(work: impl FnOnce() -> Result<Answer, Refusal> + Send + 'static) -> Response {
    match tokio::task::spawn_blocking(work).await {
        Ok(Ok(answer)) => told(answer),
        Ok(Err(refusal)) => refused(&refusal),
        // A panic was told on the terminal.
        Err(_) => refused(&Refusal::Failed("the engine failed; what it said is in the terminal".to_owned())),
    }
}

fn told(answer: Answer) -> Response {
    match answer {
        Answer::Json(value) => json(200, &value),
        Answer::Frame(frame) => ([(header::CONTENT_TYPE, "application/octet-stream")], frame).into_response(),
        Answer::Report(text) => html(text, REPORT_POLICY),
        Answer::File { content, kind } => ([(header::CONTENT_TYPE, kind)], Bytes::from(content)).into_response(),
    }
}

fn refused(refusal: &Refusal) -> Response {
    json(refusal.status(), &refusal.body())
}

fn json(status: u16, value: &serde_json::Value) -> Response {
    (code(status), [(header::CONTENT_TYPE, "application/json")], value.to_string()).into_response()
}

fn plain(status: u16, text: &'static str) -> Response {
    (code(status), [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], text).into_response()
}

fn html(text: String, policy: &'static str) -> Response {
    let heads = [(header::CONTENT_TYPE, "text/html; charset=utf-8"), (header::CONTENT_SECURITY_POLICY, policy)];
    (heads, text).into_response()
}

fn code(status: u16) -> StatusCode {
    StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
}
