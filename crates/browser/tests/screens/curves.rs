//! The page's own chart with half a million points held and fifty a second more.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::time::Duration;
use std::{fs, io, thread};

use browser::{Asked, Chromium, Fault, Served};
use serde_json::Value;

const PAGE: &str = "/crates/browser/pages/curves.html";
const HELD: f64 = 500e3;
const A_SECOND: f64 = 50.0;
/// How long one frame may take to draw for 60 a second, on a quiet machine `[ms]`.
const FRAME_MS: f64 = 1000.0 / 60.0;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn half_a_million_points_and_fifty_a_second_more() -> Result<(), Fault> {
    let served = Served::start(Asked::default())?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    page.go(&format!("http://{}{PAGE}", workspace()?)).await?;
    let minute = Duration::from_secs(60);
    let found =
        page.until_within(minute, "what was measured", "return window.measured", &[]).await?;
    println!("{found:#}");
    let number = |run: usize, key: &str| found["runs"][run][key].as_f64().unwrap_or(f64::NAN);
    assert_eq!(found["wrong"], 0, "a block knows another least or greatest than its values");
    assert_eq!(found["inked"], Value::Bool(true), "the last point is drawn where the frame says");
    for run in 0..3 {
        assert_eq!(number(run, "points"), number(run, "made"), "every point is held");
        assert!(number(run, "points") >= HELD);
        // Beside other tests a frame may wait for its turn; half of them do not.
        assert!(number(run, "median_draw_ms") <= FRAME_MS, "{found:#}");
    }
    assert_eq!(number(0, "points_in_view"), number(0, "made"), "all of it is in view");
    // The frame moves in tenths of what is looked at.
    for (run, seconds) in [(1, 600.0), (2, 60.0)] {
        let whole = seconds * A_SECOND;
        let seen = number(run, "points_in_view");
        assert!((0.85 * whole..=whole).contains(&seen), "{seen} of {whole} in {seconds} s");
    }
    page.close().await
}

/// The workspace, served as it lies; the thread ends with the test.
fn workspace() -> io::Result<SocketAddr> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let listener = TcpListener::bind("127.0.0.1:0")?;
    let here = listener.local_addr()?;
    thread::spawn(move || {
        for socket in listener.incoming().flatten() {
            let root = root.clone();
            // Chromium opens sockets it does not use; those end without a question.
            thread::spawn(move || answer(socket, &root));
        }
    });
    Ok(here)
}

fn answer(mut socket: TcpStream, root: &Path) -> io::Result<()> {
    socket.set_read_timeout(Some(Duration::from_secs(2)))?;
    let mut lines = BufReader::new(&socket).lines();
    let asked = lines.next().transpose()?.unwrap_or_default();
    // A socket that is closed on what nobody read takes its answer with it.
    for line in lines {
        if line?.is_empty() {
            break;
        }
    }
    let path = asked.split(' ').nth(1).unwrap_or_default();
    let file: PathBuf = root.join(path.trim_start_matches('/'));
    let kind = match file.extension().and_then(|end| end.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript",
        Some("css") => "text/css",
        _ => "application/octet-stream",
    };
    let (status, body) = match fs::read(&file) {
        Ok(body) => ("200 OK", body),
        Err(_) => ("404 Not Found", Vec::new()),
    };
    write!(
        socket,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {}\r\n\
         Connection: close\r\n\r\n",
        body.len()
    )?;
    socket.write_all(&body)
}
