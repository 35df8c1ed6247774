//! The wish that the program ends.

use std::io;

/// Waits for the system, or Ctrl+C, to ask; what is asked from the call on is not missed.
#[cfg(unix)]
pub(super) fn asked() -> io::Result<impl Future<Output = ()>> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut pressed = signal(SignalKind::interrupt())?;
    let (mut end, mut hang_up) = (signal(SignalKind::terminate())?, signal(SignalKind::hangup())?);
    Ok(async move {
        tokio::select! {
            _ = pressed.recv() => {}
            _ = end.recv() => {}
            _ = hang_up.recv() => {}
        }
    })
}

/// The same where there is Ctrl+C alone.
#[cfg(not(unix))]
pub(super) fn asked() -> io::Result<impl Future<Output = ()>> {
    Ok(async {
        if tokio::signal::ctrl_c().await.is_err() {
            // Nobody can ask; it is ended from without.
            std::future::pending::<()>().await;
        }
    })
}
