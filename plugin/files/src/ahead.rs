//! A file decoded ahead of its reader, on a thread of its own, which may do more with it.

use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{self, JoinHandle};

use crate::decode::AudioFile;
use crate::error::Error;

/// Frames of a block, at least, but for the last: enough that handing it over costs nothing. Ours.
const BLOCK_FRAMES: usize = 16_384;
/// Blocks that wait at most: memory stays bounded.
const WAITING: usize = 4;

type Block = Vec<Vec<f32>>;

/// Reads a file's blocks, and makes a `T` of each, while its user works on the ones before.
pub struct ReadAhead<T> {
    /// Empty only while being dropped.
    blocks: Option<Receiver<Result<(Block, T), Error>>>,
    spare: Sender<Block>,
    reader: Option<JoinHandle<()>>,
}

impl<T: Send + 'static> ReadAhead<T> {
    /// Starts to read `file` from where it stands. `prepare` gets each block in turn, one vector a
    /// channel, on the thread that reads.
    #[must_use]
    pub fn new(file: AudioFile, prepare: impl FnMut(&Block) -> T + Send + 'static) -> Self {
        let (send, blocks) = sync_channel(WAITING);
        let (spare, spares) = channel();
        let reader = thread::spawn(move || read(file, prepare, &send, &spares));
        Self { blocks: Some(blocks), spare, reader: Some(reader) }
    }

    /// Puts the next block into `planes`, one vector a channel, and gives what was made of it; `None`
    /// at the end of the file.
    ///
    /// # Errors
    /// Those of [`AudioFile::next_block`], once everything ahead of the fault has been given out.
    ///
    /// # Panics
    /// Where the decoder did, or `prepare`.
    pub fn next_block(&mut self, planes: &mut Block) -> Result<Option<T>, Error> {
        match self.blocks.as_ref().and_then(|blocks| blocks.recv().ok()) {
            Some(read) => {
                let (block, made) = read?;
                // The reader may have ended: then nobody needs the spare.
                let _ = self.spare.send(std::mem::replace(planes, block));
                Ok(Some(made))
            }
            None => {
                if let Some(Err(panic)) = self.reader.take().map(JoinHandle::join) {
                    std::panic::resume_unwind(panic);
                }
                Ok(None)
            }
        }
    }
}

impl<T> Drop for ReadAhead<T> {
    fn drop(&mut self) {
        // Without a receiver the reader ends at its next block.
        self.blocks = None;
        if let Some(reader) = self.reader.take() {
            let _ = reader.join();
        }
    }
}

/// Reads until the file ends, a fault or nobody listens.
fn read<T>(
    mut file: AudioFile,
    mut prepare: impl FnMut(&Block) -> T,
    send: &SyncSender<Result<(Block, T), Error>>,
    spares: &Receiver<Block>,
) {
    let mut packet = Vec::new();
    let mut going = true;
    while going {
        let mut block = spares.try_recv().unwrap_or_default();
        block.resize_with(file.channels(), Vec::new);
        block.iter_mut().for_each(Vec::clear);
        let mut fault = None;
        while going && block[0].len() < BLOCK_FRAMES {
            match file.next_block(&mut packet) {
                Ok(true) => {
                    for (plane, samples) in block.iter_mut().zip(&packet) {
                        plane.extend_from_slice(samples);
                    }
                }
                Ok(false) => going = false,
                Err(error) => {
                    fault = Some(error);
                    going = false;
                }
            }
        }
        if !block[0].is_empty() {
            let made = prepare(&block);
            if send.send(Ok((block, made))).is_err() {
                return;
            }
        }
        if let Some(error) = fault {
            // Nobody listening any more is no fault.
            let _ = send.send(Err(error));
        }
    }
}
