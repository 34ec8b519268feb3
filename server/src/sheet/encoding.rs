//! Bytes to text: UTF-8, UTF-16 with a mark, Windows-1252, decoded as they stream in.
//!
//! The encoding is judged on a first stretch. What comes later can still change it in one way: while all has been
//! plain ASCII, the first byte that is not UTF-8 makes the rest Windows-1252, and nothing before it reads differently.

use super::fault::SheetFault;
use encoding_rs::{CoderResult, Decoder, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::io::Read;

/// How much is looked at before the first row is answered.
pub(super) const LOOK_AHEAD: usize = 256 * 1024;

const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Encoding of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, the mark in front or not.
    Utf8,
    /// UTF-16, either byte order, by its mark.
    Utf16,
    /// The one-byte encoding of older spreadsheets.
    Windows1252,
}

impl Encoding {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16 => "UTF-16",
            Self::Windows1252 => "Windows-1252",
        }
    }
}

/// A sheet as text, read on demand.
pub(super) struct Text<R> {
    input: R,
    mode: Mode,
    encoding: Encoding,
    marked: bool,
    raw: Vec<u8>,
    at_end: bool,
    only_ascii: bool,
    damaged: bool,
}

enum Mode {
    /// Bytes are checked and taken as they are.
    Utf8,
    /// Bytes are converted.
    Converted(Decoder),
}

impl<R: Read> Text<R> {
    /// Reads the first stretch and judges it.
    pub(super) fn new(input: R) -> Result<Self, SheetFault> {
        let mut text = Self {
            input,
            mode: Mode::Utf8,
            encoding: Encoding::Utf8,
            marked: false,
            raw: Vec::new(),
            at_end: false,
            only_ascii: true,
            damaged: false,
        };
        text.read_raw(LOOK_AHEAD)?;
        refuse_other_formats(&text.raw)?;
        if text.raw.starts_with(BYTE_ORDER_MARK) {
            text.raw.drain(..BYTE_ORDER_MARK.len());
            text.marked = true;
        } else if let Some(utf16) = [(b"\xff\xfe", UTF_16LE), (b"\xfe\xff", UTF_16BE)].iter().find(|(mark, _)| text.raw.starts_with(*mark))
        {
            text.raw.drain(..2);
            text.marked = true;
            text.encoding = Encoding::Utf16;
            text.mode = Mode::Converted(utf16.1.new_decoder_without_bom_handling());
        } else if std::str::from_utf8(&text.raw).is_err_and(|e| e.error_len().is_some() || text.at_end) {
            text.marked = true;
            text.encoding = Encoding::Windows1252;
            text.mode = Mode::Converted(WINDOWS_1252.new_decoder_without_bom_handling());
        }
        Ok(text)
    }

    /// Encoding as known so far.
    pub(super) const fn encoding(&self) -> Encoding {
        self.encoding
    }

    /// Whether the answer needs a byte order mark: there was one, or the input was not UTF-8, and a spreadsheet that
    /// guessed that once would guess wrong now.
    pub(super) const fn needs_mark(&self) -> bool {
        self.marked
    }

    /// Whether bytes were met that the encoding does not know; each reads as U+FFFD.
    pub(super) const fn damaged(&self) -> bool {
        self.damaged
    }

    /// Reads on until `out` holds `wanted` bytes of text or the sheet ends; whether there may be more.
    pub(super) fn fill(&mut self, out: &mut String, wanted: usize) -> Result<bool, SheetFault> {
        while out.len() < wanted {
            if self.raw.is_empty() || (!self.at_end && self.raw.len() < 4) {
                self.read_raw((wanted - out.len()).max(16))?;
            }
            if self.raw.is_empty() {
                // A decoder may still hold half a character.
                if let Mode::Converted(decoder) = &mut self.mode {
                    self.damaged |= convert(decoder, &[], true, out);
                    self.mode = Mode::Utf8;
                }
                return Ok(false);
            }
            self.decode(out);
        }
        Ok(!(self.at_end && self.raw.is_empty()))
    }

    fn read_raw(&mut self, wanted: usize) -> Result<(), SheetFault> {
        let wanted = wanted.saturating_sub(self.raw.len()) as u64;
        let read = (&mut self.input).take(wanted).read_to_end(&mut self.raw).map_err(SheetFault::Read)?;
        self.at_end |= (read as u64) < wanted;
        Ok(())
    }

    fn decode(&mut self, out: &mut String) {
        match &mut self.mode {
            Mode::Converted(decoder) => {
                self.damaged |= convert(decoder, &self.raw, false, out);
                self.raw.clear();
            }
            Mode::Utf8 => {
                let fault = match std::str::from_utf8(&self.raw) {
                    Ok(text) => {
                        self.only_ascii &= text.is_ascii();
                        out.push_str(text);
                        self.raw.clear();
                        return;
                    }
                    Err(fault) => fault,
                };
                let good = fault.valid_up_to();
                let text = String::from_utf8_lossy(&self.raw[..good]);
                self.only_ascii &= text.is_ascii();
                out.push_str(&text);
                self.raw.drain(..good);
                let cut_off = fault.error_len().is_none() && !self.at_end;
                if !cut_off {
                    self.leave_utf8();
                } else if good == 0 {
                    // Nothing but the start of one character: the next stretch brings the rest of it.
                    self.raw.reserve(4);
                }
            }
        }
    }

    fn leave_utf8(&mut self) {
        if self.only_ascii {
            self.encoding = Encoding::Windows1252;
            self.mode = Mode::Converted(WINDOWS_1252.new_decoder_without_bom_handling());
        } else {
            self.mode = Mode::Converted(UTF_8.new_decoder_without_bom_handling());
        }
    }
}

/// Appends what the bytes say; whether some of them say nothing.
fn convert(decoder: &mut Decoder, bytes: &[u8], last: bool, out: &mut String) -> bool {
    let mut rest = bytes;
    let mut damaged = false;
    loop {
        out.reserve(decoder.max_utf8_buffer_length(rest.len()).unwrap_or(64));
        let (result, read, replaced) = decoder.decode_to_string(rest, out, last);
        damaged |= replaced;
        rest = &rest[read..];
        if result == CoderResult::InputEmpty {
            return damaged;
        }
    }
}

fn refuse_other_formats(raw: &[u8]) -> Result<(), SheetFault> {
    const FORMATS: [(&[u8], &str); 6] = [
        (
            b"PK\x03\x04",
            "this is an xlsx or ods workbook, or another zip archive. Send a workbook with its own media type, or save the sheet as CSV.",
        ),
        (b"\xd0\xcf\x11\xe0", "this is a workbook of an older spreadsheet (xls). Open it and save it as CSV."),
        (b"%PDF", "this is a PDF file. Export the table as CSV."),
        (b"\x1f\x8b", "this is a gzip archive. Unpack it first."),
        (b"\x89PNG", "this is a picture. Export the table as CSV."),
        (b"SQLite format 3\0", "this is a database file. Export the table as CSV."),
    ];
    match FORMATS.iter().find(|(magic, _)| raw.starts_with(magic)) {
        Some((_, found)) => Err(SheetFault::NotText { found: (*found).into() }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hands out one byte more at every call, so that characters are cut everywhere.
    struct Dribble<'a>(&'a [u8], usize);

    impl Read for Dribble<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            let n = self.1.min(self.0.len()).min(buffer.len());
            self.1 = self.1 % 7 + 1;
            buffer[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    fn decoded(bytes: &[u8], step: usize) -> (String, Encoding, bool, bool) {
        let mut text = Text::new(Dribble(bytes, 1)).unwrap();
        let mut out = String::new();
        while text.fill(&mut out, step).unwrap() {
            let wanted = out.len() + step;
            if !text.fill(&mut out, wanted).unwrap() {
                break;
            }
        }
        (out, text.encoding(), text.needs_mark(), text.damaged())
    }

    #[track_caller]
    fn check(bytes: &[u8], expected: &str, encoding: Encoding, mark: bool) {
        for step in [1, 3, 1000] {
            assert_eq!(decoded(bytes, step), (expected.into(), encoding, mark, false));
        }
    }

    #[test]
    fn encodings_are_told_apart() {
        check(b"", "", Encoding::Utf8, false);
        check("dünn, 3 µm, €".as_bytes(), "dünn, 3 µm, €", Encoding::Utf8, false);
        check(b"\xef\xbb\xbfa\xc3\xbc", "aü", Encoding::Utf8, true);
        check(b"\xff\xfea\0\xfc\0", "aü", Encoding::Utf16, true);
        check(b"\xfe\xff\0a\0\xfc\xd8\x3d\xde\x00", "aü😀", Encoding::Utf16, true);
        check(b"d\xfcnn \x80", "dünn €", Encoding::Windows1252, true);
    }

    #[test]
    fn a_late_foreign_byte_turns_the_rest() {
        let mut bytes = vec![b'a'; LOOK_AHEAD + 10];
        bytes.extend_from_slice(b"\xfc\n");
        let (text, encoding, mark, damaged) = decoded(&bytes, 5000);
        assert!(text.ends_with("aü\n"));
        assert_eq!((encoding, mark, damaged), (Encoding::Windows1252, false, false));
        bytes[0..2].copy_from_slice("ü".as_bytes());
        let (text, encoding, _, damaged) = decoded(&bytes, 5000);
        assert!(text.starts_with("üa") && text.ends_with("a\u{fffd}\n"));
        assert_eq!((encoding, damaged), (Encoding::Utf8, true));
    }

    #[test]
    fn other_formats_are_named() {
        for (bytes, word) in
            [(&b"PK\x03\x04\x14\0"[..], "xlsx"), (b"\xd0\xcf\x11\xe0\xa1", "xls"), (b"%PDF-1.7", "PDF"), (b"\x1f\x8b\x08", "gzip")]
        {
            match Text::new(bytes) {
                Err(fault @ SheetFault::NotText { .. }) => assert!(fault.to_string().contains(word), "{fault}"),
                _ => panic!("{word} was taken for text"),
            }
        }
    }
}
