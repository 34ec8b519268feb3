//! A key as its holder has it, and what of it is kept.
//!
//! A key reads `toile_`, 12 hexadecimal digits that tell it from others, `_`, and 64 hexadecimal digits of secret: 256 bits from
//! the system's generator. Nobody guesses those, so a plain digest keeps them as safe as a slow one would, and costs nothing
//! at each request.

use std::fmt;

use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// What every key begins with, so that one that slipped into a file is found by a search.
const MARK: &str = "toile_";
const NAME_BYTES: usize = 6;
const SECRET_BYTES: usize = 32;

/// A key as its holder has it. It is shown once and never printed with `Debug`.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(..)")
    }
}

impl Secret {
    /// A new key.
    pub fn random() -> Self {
        let (mut name, mut secret) = ([0; NAME_BYTES], [0; SECRET_BYTES]);
        for bytes in [&mut name[..], &mut secret] {
            getrandom::fill(bytes).expect("the system gives random bytes");
        }
        Self(format!("{MARK}{}_{}", hex::encode(name), hex::encode(secret)))
    }

    /// The key in full, to be shown to its holder and nobody else.
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// Prefix and digest, which is all that is kept.
    pub fn kept(&self) -> (String, String) {
        let (prefix, secret) = parts(&self.0).expect("a key of our own making");
        (prefix.to_owned(), hex::encode(Sha256::digest(secret)))
    }
}

/// Prefix and secret of a key that was sent; none where it has not the form of one.
pub fn parts(key: &str) -> Option<(&str, &str)> {
    let (prefix, secret) = key.rsplit_once('_')?;
    let digits = |text: &str, bytes| text.len() == 2 * bytes && text.bytes().all(|b| b.is_ascii_hexdigit());
    (digits(prefix.strip_prefix(MARK)?, NAME_BYTES) && digits(secret, SECRET_BYTES)).then_some((prefix, secret))
}

/// Whether a secret is the one of this digest, in a time that does not tell how much of it is right.
pub fn is_of(secret: &str, digest: &str) -> bool {
    hex::encode(Sha256::digest(secret)).as_bytes().ct_eq(digest.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_told_by_its_digest() {
        let key = Secret::random();
        let (prefix, digest) = key.kept();
        let (sent_prefix, secret) = parts(key.reveal()).expect("the form of a key");
        assert_eq!(sent_prefix, prefix);
        assert!(is_of(secret, &digest));
        assert!(!digest.contains(secret) && !format!("{key:?}").contains(secret));
        assert!(!is_of(&secret.replace('0', "1"), &digest) || !secret.contains('0'));
        assert_ne!(Secret::random(), key);
    }

    #[test]
    fn the_digest_is_sha_256() {
        // FIPS 180-2, appendix B.1: the digest of "abc".
        assert!(is_of("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"));
        assert!(!is_of("abd", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"));
    }

    #[test]
    fn other_words_are_no_keys() {
        let key = Secret::random();
        for text in
            ["", "toile_", "toile_12_34", &key.reveal()[1..], &key.reveal()[..key.reveal().len() - 1], &format!("{}é", key.reveal())]
        {
            assert_eq!(parts(text), None, "{text}");
        }
    }
}
