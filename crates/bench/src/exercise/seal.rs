//! Seals an answer so that it is not read by accident or in an editor. That is all it does: the key is in this program and
//! in its source, so whoever has either can open it. It is no protection for an examination.
//!
//! Sealed text is base64 of: salt (16 bytes), then payload and check sum, both under a keystream. The keystream is SHA-256
//! (FIPS 180-4) in counter mode over a constant of the program, the salt and a counter. The payload carries its own length
//! and is filled up to whole blocks, so that the length of the text says nothing about the answer.

use std::{
    collections::hash_map::RandomState,
    hash::{BuildHasher, Hasher},
    time::{SystemTime, UNIX_EPOCH},
};

use base64::{Engine, engine::general_purpose::STANDARD};
use sha2::{Digest, Sha256};

/// Mixed into every keystream. Not a secret: it stands here.
const CONSTANT: &[u8] = b"joulemark exercise, version 1";
const SALT_BYTES: usize = 16;
const CHECK_BYTES: usize = 8;
/// Bytes that hold the payload's length.
const LENGTH_BYTES: usize = 4;
/// Payloads are filled up to a multiple of this. A supply log of some hundred frames and the limits of a board's rails fit
/// into one block, with a fault or without.
const BLOCK_BYTES: usize = 32 << 10;
/// The same for a line of a class file.
const LINE_BYTES: usize = 512;
/// What is said of a seal that cannot be opened.
const DAMAGED: &str = "the sealed answer is damaged; get the exercise again from whoever gave it out";

/// A salt that differs from call to call. It only keeps equal answers from looking alike, so that the hasher's own
/// randomness (from the system) and the time are enough.
fn fresh_salt() -> [u8; SALT_BYTES] {
    let mut hash = Sha256::new();
    for _ in 0..2 {
        hash.update(RandomState::new().build_hasher().finish().to_le_bytes());
    }
    hash.update(SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_nanos()).to_le_bytes());
    let mut salt = [0; SALT_BYTES];
    salt.copy_from_slice(&hash.finalize()[..SALT_BYTES]);
    salt
}

/// A short name that says nothing: letters and digits that are not mistaken for one another.
pub fn fresh_id() -> String {
    const LETTERS: &[u8] = b"ABCDEFGHJKLMNPQRSTUVWXYZ23456789";
    fresh_salt()[..6].iter().map(|b| char::from(LETTERS[usize::from(*b) % LETTERS.len()])).collect()
}

/// A seed for an exercise that nobody chose.
pub fn fresh_seed() -> u64 {
    let salt = fresh_salt();
    // Short enough to be typed.
    u64::from(u32::from_le_bytes([salt[0], salt[1], salt[2], salt[3]]) % 1_000_000)
}

/// Lays the keystream over bytes; laid twice it is gone.
fn lay_stream(salt: &[u8], bytes: &mut [u8]) {
    for (counter, block) in (0_u64..).zip(bytes.chunks_mut(32)) {
        let key =
            Sha256::new().chain_update(CONSTANT).chain_update(salt).chain_update(counter.to_le_bytes()).finalize();
        for (byte, key) in block.iter_mut().zip(key) {
            *byte ^= key;
        }
    }
}

fn check_sum(salt: &[u8], payload: &[u8]) -> [u8; CHECK_BYTES] {
    let sum = Sha256::new().chain_update(salt).chain_update(payload).finalize();
    let mut check = [0; CHECK_BYTES];
    check.copy_from_slice(&sum[..CHECK_BYTES]);
    check
}

/// Seals the answer of an exercise. No two calls give the same text.
pub fn seal(text: &str) -> String {
    in_blocks(text, BLOCK_BYTES)
}

/// Seals a line of a class file, which is short.
pub fn seal_line(text: &str) -> String {
    in_blocks(text, LINE_BYTES)
}

fn in_blocks(text: &str, block_bytes: usize) -> String {
    let salt = fresh_salt();
    let length = u32::try_from(text.len()).unwrap_or(u32::MAX);
    let mut payload = length.to_le_bytes().to_vec();
    payload.extend_from_slice(text.as_bytes());
    payload.resize(payload.len().next_multiple_of(block_bytes), 0);
    payload.extend_from_slice(&check_sum(&salt, &payload));
    lay_stream(&salt, &mut payload);
    STANDARD.encode([&salt[..], &payload].concat())
}

/// Opens a sealed text.
///
/// # Errors
/// One line, when it was damaged or is none.
pub fn open(sealed: &str) -> Result<String, &'static str> {
    let bytes = STANDARD.decode(sealed.trim()).map_err(|_| DAMAGED)?;
    let (salt, covered) = bytes.split_at_checked(SALT_BYTES).ok_or(DAMAGED)?;
    let mut covered = covered.to_vec();
    lay_stream(salt, &mut covered);
    let at = covered.len().checked_sub(CHECK_BYTES).ok_or(DAMAGED)?;
    let (payload, check) = covered.split_at(at);
    if check != check_sum(salt, payload) {
        return Err(DAMAGED);
    }
    let (length, rest) = payload.split_at_checked(LENGTH_BYTES).ok_or(DAMAGED)?;
    let length = u32::from_le_bytes(length.try_into().map_err(|_| DAMAGED)?) as usize;
    let text = rest.get(..length).ok_or(DAMAGED)?;
    String::from_utf8(text.to_vec()).map_err(|_| DAMAGED)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// SHA-256 of "abc": FIPS 180-4, example of appendix B.1 of FIPS 180-2. The keystream stands on it.
    #[test]
    fn the_hash_is_the_published_one() {
        let sum = Sha256::digest(b"abc");
        assert_eq!(sum[..8], [0xba, 0x78, 0x16, 0xbf, 0x8f, 0x01, 0xcf, 0xea]);
    }

    #[test]
    fn the_same_answer_never_looks_the_same_and_its_length_says_nothing() {
        let (a, b, long) = (seal("C12"), seal("C12"), seal(&"nothing".repeat(900)));
        assert_ne!(a, b);
        assert_ne!(a[..24], b[..24]);
        assert_eq!(a.len(), long.len());
        assert_eq!(seal_line("C12").len(), seal_line("nothing at all").len());
    }

    /// A word this long does not turn up among the letters of base64, or in its bytes, by chance; a designator would.
    #[test]
    fn what_is_sealed_cannot_be_read() {
        let word = "CapacitorTwelve";
        let sealed = seal(word);
        let bytes = STANDARD.decode(&sealed).unwrap();
        assert!(!sealed.contains(word) && !bytes.windows(word.len()).any(|w| w == word.as_bytes()));
    }

    #[test]
    fn ids_are_plain_and_differ() {
        let ids: std::collections::HashSet<String> = (0..200).map(|_| fresh_id()).collect();
        // 32^6 names: a pair among 200 has a chance of 2e-5.
        assert_eq!(ids.len(), 200);
        assert!(ids.iter().all(|id| id.len() == 6 && id.bytes().all(|b| b.is_ascii_alphanumeric())));
    }

    proptest! {
        #[test]
        fn what_is_sealed_opens_again(text in any::<String>()) {
            prop_assert_eq!(open(&seal(&text)).unwrap(), text.clone());
            prop_assert_eq!(open(&seal_line(&text)).unwrap(), text);
        }

        #[test]
        fn any_text_is_opened_or_refused_in_one_line(text in any::<String>(), bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            for sealed in [text, STANDARD.encode(bytes)] {
                if let Err(why) = open(&sealed) {
                    prop_assert_eq!(why.lines().count(), 1);
                }
            }
        }

        #[test]
        fn a_changed_letter_is_found(at in 0_usize..600) {
            let mut sealed = seal_line("C12, top, 4.5 mm").into_bytes();
            let at = at % (sealed.len() - 2);
            sealed[at] = if sealed[at] == b'A' { b'B' } else { b'A' };
            prop_assert_eq!(open(std::str::from_utf8(&sealed).unwrap()), Err(DAMAGED));
        }
    }
}
