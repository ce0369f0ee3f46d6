//! Another program whose output is read while the user may cancel. It is ended whenever this is dropped.

use std::{
    ffi::OsStr,
    io::{self, Read},
    process::{Child, Command, Stdio},
    sync::mpsc::{self, Receiver, RecvTimeoutError},
    thread::{self, JoinHandle},
    time::Duration,
};

/// Output is handed over in pieces of at most this size.
const PIECE_BYTES: usize = 1 << 20;
/// How much of the program's messages is kept.
const MOST_MESSAGE_BYTES: u64 = 64 << 10;
/// How often cancelling is looked for while the program is silent.
const PATIENCE: Duration = Duration::from_millis(50);

pub(super) struct Process {
    child: Child,
    pieces: Receiver<io::Result<Vec<u8>>>,
    messages: Option<JoinHandle<String>>,
}

/// What came next.
pub(super) enum Piece {
    Bytes(Vec<u8>),
    /// Nothing within the waiting time.
    Silence,
    End,
}

impl Process {
    pub fn start<S: AsRef<OsStr>>(program: &str, arguments: &[S]) -> io::Result<Self> {
        let mut child = Command::new(program)
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()?;
        // Two pieces wait at most, so a slow reader slows the program down instead of filling the memory.
        let (sender, pieces) = mpsc::sync_channel(2);
        let output = child.stdout.take();
        thread::Builder::new().name("video output".to_owned()).spawn(move || {
            let Some(mut output) = output else { return };
            loop {
                let mut piece = Vec::new();
                let read = output.by_ref().take(PIECE_BYTES as u64).read_to_end(&mut piece);
                let last = !matches!(read, Ok(n) if n > 0);
                let sent = match read {
                    Ok(0) => Ok(()),
                    Ok(_) => sender.send(Ok(piece)),
                    Err(e) => sender.send(Err(e)),
                };
                if last || sent.is_err() {
                    return;
                }
            }
        })?;
        let errors = child.stderr.take();
        let messages = thread::Builder::new().name("video messages".to_owned()).spawn(move || {
            let Some(mut errors) = errors else { return String::new() };
            let mut kept = Vec::new();
            // What cannot be read is not worth a message of its own; the rest is drained so that nothing blocks.
            let _ = errors.by_ref().take(MOST_MESSAGE_BYTES).read_to_end(&mut kept);
            let _ = io::copy(&mut errors, &mut io::sink());
            String::from_utf8_lossy(&kept).into_owned()
        })?;
        Ok(Self { child, pieces, messages: Some(messages) })
    }

    pub fn next(&self) -> io::Result<Piece> {
        match self.pieces.recv_timeout(PATIENCE) {
            Ok(piece) => piece.map(Piece::Bytes),
            Err(RecvTimeoutError::Timeout) => Ok(Piece::Silence),
            Err(RecvTimeoutError::Disconnected) => Ok(Piece::End),
        }
    }

    /// Waits for the end: whether it went well, and what the program said.
    pub fn finish(mut self) -> io::Result<(bool, String)> {
        let status = self.child.wait()?;
        let messages = self.messages.take().and_then(|thread| thread.join().ok()).unwrap_or_default();
        Ok((status.success(), messages))
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // Both fail only when the program has already ended.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
