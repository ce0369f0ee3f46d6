//! The header of an NPY array: a dictionary written as a Python literal. Read by a strict grammar, never evaluated.
//! Source: NumPy Enhancement Proposal 1 and `numpy.lib.format` (versions 1.0, 2.0 and 3.0).

/// Longest header accepted. NumPy's own are below 200 bytes; its safe limit is 10000.
pub(super) const MOST_HEADER_BYTES: usize = 10_000;

/// Element types that hold frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Element {
    U1,
    I1,
    U2,
    I2,
    F4,
    F8,
}

impl Element {
    pub fn bytes(self) -> usize {
        match self {
            Self::U1 | Self::I1 => 1,
            Self::U2 | Self::I2 => 2,
            Self::F4 => 4,
            Self::F8 => 8,
        }
    }
}

/// What the header says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Header {
    pub element: Element,
    pub big_endian: bool,
    pub fortran_order: bool,
    pub shape: Vec<usize>,
}

/// Reads the dictionary, for instance `{'descr': '<u2', 'fortran_order': False, 'shape': (3, 4), }`.
/// The error says what is wrong, and how to save instead.
pub(super) fn parse(text: &str) -> Result<Header, (String, &'static str)> {
    let damaged =
        |what: &str| (format!("header is not an NPY dictionary: {what}"), "save the array again with numpy.save");
    let mut rest = Cursor(text.trim_end_matches(['\n', ' ', '\0']));
    let (mut descr, mut fortran_order, mut shape) = (None, None, None);
    rest.take('{').ok_or_else(|| damaged("no opening brace"))?;
    while rest.take('}').is_none() {
        let key = rest.string().ok_or_else(|| damaged("a key is not a string"))?;
        rest.take(':').ok_or_else(|| damaged("no colon after a key"))?;
        match key {
            "descr" if descr.is_none() => {
                descr =
                    Some(rest.string().ok_or((
                        "holds a table of named columns".to_owned(),
                        "save a plain array of uint16 or float32",
                    ))?);
            }
            "fortran_order" if fortran_order.is_none() => {
                let value = rest.word();
                fortran_order = Some(match value {
                    "True" => true,
                    "False" => false,
                    _ => return Err(damaged("fortran_order is neither True nor False")),
                });
            }
            "shape" if shape.is_none() => shape = Some(rest.tuple().ok_or_else(|| damaged("bad shape"))?),
            _ => return Err(damaged("unknown or repeated key")),
        }
        if rest.take(',').is_none() && !rest.0.trim_start().starts_with('}') {
            return Err(damaged("no comma between entries"));
        }
    }
    if !rest.0.trim().is_empty() {
        return Err(damaged("text after the closing brace"));
    }
    let (Some(descr), Some(fortran_order), Some(shape)) = (descr, fortran_order, shape) else {
        return Err(damaged("descr, fortran_order or shape is missing"));
    };
    let (element, big_endian) = element(descr)?;
    Ok(Header { element, big_endian, fortran_order, shape })
}

fn element(descr: &str) -> Result<(Element, bool), (String, &'static str)> {
    let big_endian = descr.starts_with('>');
    let element = match descr.strip_prefix(['<', '>', '|', '=']).unwrap_or(descr) {
        "u1" => Element::U1,
        "i1" => Element::I1,
        "u2" => Element::U2,
        "i2" => Element::I2,
        "f4" => Element::F4,
        "f8" => Element::F8,
        other if other.starts_with('O') => {
            return Err((
                "holds Python objects, which only running foreign code could read".to_owned(),
                "save a plain array: numpy.save(name, frames.astype(numpy.float32))",
            ));
        }
        _ => {
            let shown: String = descr.chars().filter(|c| !c.is_control()).take(20).collect();
            return Err((
                format!("holds elements of type '{shown}'"),
                "save uint16 or float32: numpy.save(name, frames.astype(numpy.float32))",
            ));
        }
    };
    // '|' means "has none" and '=' the order of the machine that wrote it; numpy.save writes neither for these.
    if !descr.starts_with(['<', '>']) && element.bytes() > 1 {
        return Err(("does not say its byte order".to_owned(), "save the array again with numpy.save"));
    }
    Ok((element, big_endian))
}

/// What is left of the text.
struct Cursor<'a>(&'a str);

impl<'a> Cursor<'a> {
    fn take(&mut self, wanted: char) -> Option<()> {
        self.0 = self.0.trim_start_matches(' ').strip_prefix(wanted)?;
        Some(())
    }

    /// A string without escapes, in either kind of quotes.
    fn string(&mut self) -> Option<&'a str> {
        let text = self.0.trim_start_matches(' ');
        let quote = text.chars().next().filter(|c| matches!(c, '\'' | '"'))?;
        let (value, rest) = text[1..].split_once(quote)?;
        if value.contains(['\\', '\n']) {
            return None;
        }
        self.0 = rest;
        Some(value)
    }

    fn word(&mut self) -> &'a str {
        let text = self.0.trim_start_matches(' ');
        let (word, rest) = text.split_at(text.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(text.len()));
        self.0 = rest;
        word
    }

    /// A tuple of at most eight non-negative integers; one alone needs its comma, as in Python.
    fn tuple(&mut self) -> Option<Vec<usize>> {
        let mut values = Vec::new();
        self.take('(')?;
        let mut comma = true;
        while self.take(')').is_none() {
            if !comma || values.len() == 8 {
                return None;
            }
            let word = self.word();
            // Python 2 wrote long integers as 12L.
            let digits = word.strip_suffix('L').unwrap_or(word);
            if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            values.push(digits.parse().ok()?);
            comma = self.take(',').is_some();
        }
        (values.len() != 1 || comma).then_some(values)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_numpy_writes() {
        let header = parse("{'descr': '>f4', 'fortran_order': True, 'shape': (2, 3, 4), }          \n").expect("valid");
        assert_eq!(
            header,
            Header { element: Element::F4, big_endian: true, fortran_order: true, shape: vec![2, 3, 4] }
        );
        let one = parse("{'shape':(5,),'descr':\"|u1\",'fortran_order':False}").expect("valid");
        assert_eq!((one.shape, one.element), (vec![5], Element::U1));
    }

    #[test]
    fn refuses_everything_else_with_a_reason() {
        for (text, wanted) in [
            ("{'descr': '|O', 'fortran_order': False, 'shape': (3,), }", "Python objects"),
            ("{'descr': '<i8', 'fortran_order': False, 'shape': (3,), }", "'<i8'"),
            ("{'descr': [('a', '<u2')], 'fortran_order': False, 'shape': (3,), }", "named columns"),
            ("{'descr': '<u2', 'fortran_order': 0, 'shape': (3,), }", "neither True nor False"),
            ("{'descr': '<u2', 'fortran_order': False, 'shape': (3), }", "bad shape"),
            ("{'descr': '<u2', 'fortran_order': False, 'shape': (-3,), }", "bad shape"),
            ("{'descr': '<u2', 'fortran_order': False, 'shape': (99999999999999999999,), }", "bad shape"),
            ("{'descr': '<u2', 'fortran_order': False}", "missing"),
            ("{'descr': '<u2', 'descr': '<u2', 'fortran_order': False, 'shape': (3,)}", "repeated"),
            ("{'descr': '<u2', 'fortran_order': False, 'shape': (3,), 'x': 1}", "unknown"),
            ("{'descr': '|u2', 'fortran_order': False, 'shape': (3,)}", "byte order"),
            ("__import__('os').system('true')", "no opening brace"),
            ("", "no opening brace"),
            ("{", "a key is not a string"),
        ] {
            let (problem, remedy) = parse(text).expect_err(text);
            assert!(problem.contains(wanted), "{text}: {problem}");
            assert!(remedy.contains("save"));
        }
    }
}
