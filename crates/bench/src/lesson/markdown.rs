//! The Markdown of a lesson as blocks of our own, which the PDF, the web page and the window lay out alike.
//!
//! A subset on purpose: headings, paragraphs, lists, code. Raw HTML is text like any other; of a link the words and the
//! address stay, nothing that could be followed.

use pulldown_cmark::{CodeBlockKind, Event, Options, Parser, Tag, TagEnd};

/// Lists nest at most so deep; what is deeper joins the list around it.
const DEEPEST: usize = 6;

/// A piece of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Block {
    /// A heading, 1 the highest.
    Heading(u8, Vec<Run>),
    /// A paragraph; `\n` in a run begins a new line.
    Paragraph(Vec<Run>),
    /// Items, each of blocks; numbered from a number on, or not.
    List(Option<u64>, Vec<Vec<Block>>),
    /// Lines that stay as they are.
    Code(String),
}

/// Text of one look.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Run {
    /// The text.
    pub text: String,
    /// Whether it is strong.
    pub strong: bool,
    /// Whether it is emphasised.
    pub emphasis: bool,
    /// Whether it is code.
    pub code: bool,
}

/// Reads a text.
pub fn parse(text: &str) -> Vec<Block> {
    let mut reader = Reader::default();
    for event in Parser::new_ext(text, Options::empty()) {
        reader.event(event);
    }
    reader.end()
}

/// The text without its looks, one line a block: for those who listen, and for search.
pub fn plain(blocks: &[Block]) -> String {
    let words = |runs: &[Run]| runs.iter().map(|r| r.text.as_str()).collect::<String>();
    let line = |block: &Block| match block {
        Block::Heading(_, runs) | Block::Paragraph(runs) => words(runs),
        Block::List(_, items) => items.iter().map(|i| plain(i)).collect::<Vec<_>>().join("\n"),
        Block::Code(text) => text.trim_end().to_owned(),
    };
    blocks.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// A list that is being read.
struct Open {
    first: Option<u64>,
    items: Vec<Vec<Block>>,
}

#[derive(Default)]
struct Reader {
    done: Vec<Block>,
    lists: Vec<Open>,
    /// Lists that were too deep to open.
    swallowed: usize,
    runs: Vec<Run>,
    heading: Option<u8>,
    code: Option<String>,
    strong: usize,
    emphasis: usize,
    /// Addresses of the links around, and where their words begin.
    links: Vec<(String, usize)>,
}

impl Reader {
    fn event(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(tag) => self.stop(tag),
            Event::Text(text) | Event::Html(text) | Event::InlineHtml(text) => self.text(&text, false),
            Event::Code(text) => self.text(&text, true),
            Event::SoftBreak => self.text(" ", false),
            Event::HardBreak => self.text("\n", false),
            Event::InlineMath(text) | Event::DisplayMath(text) | Event::FootnoteReference(text) => {
                self.text(&text, false)
            }
            Event::Rule => self.paragraph(),
            Event::TaskListMarker(done) => self.text(if done { "[x] " } else { "[ ] " }, false),
        }
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Heading { level, .. } => {
                self.paragraph();
                self.heading = Some(level as u8);
            }
            Tag::CodeBlock(kind) => {
                self.paragraph();
                // The language of a fence is nothing that a reader needs.
                let (CodeBlockKind::Indented | CodeBlockKind::Fenced(_)) = kind;
                self.code = Some(String::new());
            }
            Tag::List(first) => {
                self.paragraph();
                if self.lists.len() < DEEPEST {
                    self.lists.push(Open { first, items: Vec::new() });
                } else {
                    self.swallowed += 1;
                }
            }
            Tag::Item => {
                self.paragraph();
                if let Some(list) = self.lists.last_mut() {
                    list.items.push(Vec::new());
                }
            }
            Tag::Strong => self.strong += 1,
            Tag::Emphasis => self.emphasis += 1,
            Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. } => {
                self.links.push((dest_url.to_string(), self.words_so_far()));
            }
            _ => self.paragraph(),
        }
    }

    fn stop(&mut self, tag: TagEnd) {
        match tag {
            TagEnd::Heading(_) => {
                let (level, runs) = (self.heading.take().unwrap_or(1), std::mem::take(&mut self.runs));
                self.put(Block::Heading(level, runs));
            }
            TagEnd::CodeBlock => {
                let code = self.code.take().unwrap_or_default();
                self.put(Block::Code(code.trim_end_matches('\n').to_owned()));
            }
            TagEnd::List(_) => {
                self.paragraph();
                if self.swallowed > 0 {
                    self.swallowed -= 1;
                } else if let Some(Open { first, items }) = self.lists.pop() {
                    self.put(Block::List(first, items));
                }
            }
            TagEnd::Strong => self.strong = self.strong.saturating_sub(1),
            TagEnd::Emphasis => self.emphasis = self.emphasis.saturating_sub(1),
            TagEnd::Link | TagEnd::Image => {
                let Some((address, from)) = self.links.pop() else { return };
                let all: String = self.runs.iter().map(|r| r.text.as_str()).collect();
                let words = all.get(from..).unwrap_or_default();
                if !address.is_empty() && words != address {
                    let apart = if words.is_empty() { "" } else { " " };
                    self.text(&format!("{apart}({address})"), false);
                }
            }
            _ => self.paragraph(),
        }
    }

    fn words_so_far(&self) -> usize {
        self.runs.iter().map(|r| r.text.len()).sum()
    }

    fn text(&mut self, text: &str, code: bool) {
        if let Some(block) = &mut self.code {
            block.push_str(text);
            return;
        }
        let (strong, emphasis) = (self.strong > 0, self.emphasis > 0);
        match self.runs.last_mut() {
            Some(last) if (last.strong, last.emphasis, last.code) == (strong, emphasis, code) => {
                last.text.push_str(text)
            }
            _ => self.runs.push(Run { text: text.to_owned(), strong, emphasis, code }),
        }
    }

    /// Ends the paragraph that is being read.
    fn paragraph(&mut self) {
        let runs = std::mem::take(&mut self.runs);
        if runs.iter().any(|r| !r.text.trim().is_empty()) {
            self.put(Block::Paragraph(runs));
        }
    }

    fn put(&mut self, block: Block) {
        let within = self.lists.last_mut().and_then(|list| list.items.last_mut());
        within.unwrap_or(&mut self.done).push(block);
    }

    fn end(mut self) -> Vec<Block> {
        self.paragraph();
        while let Some(Open { first, items }) = self.lists.pop() {
            self.put(Block::List(first, items));
        }
        self.done
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn run(text: &str) -> Run {
        Run { text: text.into(), ..Run::default() }
    }

    #[test]
    fn the_usual_pieces() {
        let text = "# Heat *spreads*\n\nCopper **carries** it\naway, `k` says how far.  \nNew line.\n\n1. first\n2. second\n   - inner\n\n```\na < b\n```\n";
        let blocks = parse(text);
        assert_eq!(
            blocks,
            [
                Block::Heading(1, vec![run("Heat "), Run { emphasis: true, ..run("spreads") }]),
                Block::Paragraph(vec![
                    run("Copper "),
                    Run { strong: true, ..run("carries") },
                    run(" it away, "),
                    Run { code: true, ..run("k") },
                    run(" says how far.\nNew line."),
                ]),
                Block::List(
                    Some(1),
                    vec![
                        vec![Block::Paragraph(vec![run("first")])],
                        vec![
                            Block::Paragraph(vec![run("second")]),
                            Block::List(None, vec![vec![Block::Paragraph(vec![run("inner")])]]),
                        ],
                    ]
                ),
                Block::Code("a < b".into()),
            ]
        );
    }

    #[test]
    fn html_is_text_and_links_are_words_with_their_address() {
        let blocks =
            parse("<script>alert(1)</script>\n\nSee [the sheet](https://example.org/a) or <https://example.org>.");
        let text = plain(&blocks);
        assert!(text.contains("<script>alert(1)</script>"), "{text}");
        assert!(text.contains("See the sheet (https://example.org/a) or https://example.org."), "{text}");
    }

    #[test]
    fn deep_nesting_stays_shallow() {
        let deep: String = (0..400).map(|i| format!("{}- x\n", "  ".repeat(i))).collect();
        fn depth(blocks: &[Block]) -> usize {
            let of = |b: &Block| match b {
                Block::List(_, items) => 1 + items.iter().map(|i| depth(i)).max().unwrap_or(0),
                _ => 0,
            };
            blocks.iter().map(of).max().unwrap_or(0)
        }
        let most = depth(&parse(&deep));
        assert!((2..=DEEPEST).contains(&most), "{most}");
    }

    proptest! {
        #[test]
        fn no_text_brings_it_down(text in "(?s)[-#*_`>\\[\\]()!<&/a1. \\n\\t~|\u{e9}]{0,120}") {
            let blocks = parse(&text);
            // Nothing is made up: every letter comes from the text.
            let letters = |t: &str| t.chars().filter(|c| *c == 'a').count();
            prop_assert!(letters(&plain(&blocks)) <= 2 * letters(&text));
        }
    }
}
