//! Work that takes long, done where nobody else waits for it.

use std::io;

use tokio::runtime::Handle;

use crate::output::Trouble;

/// Does this in a thread of its own. To read a record of hundreds of thousands of readings, and to
/// judge it, takes longer than a live page may be without a word.
pub(super) async fn aside<T: Send + 'static>(
    work: impl Future<Output = T> + Send + 'static,
) -> Result<T, Trouble> {
    let here = Handle::current();
    let done = tokio::task::spawn_blocking(move || here.block_on(work)).await;
    done.map_err(|error| Trouble::System(io::Error::other(error)))
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;
    use std::time::Duration;

    use tokio::runtime::Builder;

    use super::*;

    /// Ends only if the other is done meanwhile, though the runtime has one thread.
    #[test]
    fn others_go_on_meanwhile() {
        let runtime = Builder::new_multi_thread().worker_threads(1).enable_all().build();
        let runtime = runtime.expect("a runtime");
        let (tell, told) = mpsc::channel();
        let long = runtime.spawn(aside(async move { told.recv_timeout(Duration::from_secs(20)) }));
        runtime.spawn(async move { tell.send("a word") });
        let heard = runtime.block_on(long).expect("it ends").expect("a thread");
        assert_eq!(heard, Ok("a word"));
    }
}
