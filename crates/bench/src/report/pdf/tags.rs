//! What each piece of a page is, for screen readers: the tags of a tagged PDF (ISO 32000-1, 14.8), in reading order.

use std::num::NonZeroU16;

use krilla::tagging::{Identifier, ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagTree};

/// What a piece is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// A heading of a level, from 1.
    Heading(u16),
    /// Text.
    Paragraph,
    /// A picture with its description.
    Figure(String),
    /// A table of rows.
    Table,
    /// A row of cells.
    Row,
    /// A cell of the head.
    HeadCell,
    /// Any other cell.
    Cell,
    /// A list of items.
    List,
    /// An item of a list.
    Item,
    /// Page furniture, which is not read out.
    Artifact,
}

/// A tag of a document by its place in [`Tags`].
pub type TagId = usize;

struct Entry {
    role: Role,
    children: Vec<TagId>,
    content: Vec<Identifier>,
}

/// All tags of a document.
pub struct Tags {
    entries: Vec<Entry>,
    top: Vec<TagId>,
}

/// The tag of page furniture.
pub const FURNITURE: TagId = 0;

impl Tags {
    /// Only [`FURNITURE`].
    pub fn new() -> Self {
        Self { entries: vec![Entry { role: Role::Artifact, children: vec![], content: vec![] }], top: Vec::new() }
    }

    /// A new tag below another, or at the top.
    pub fn add(&mut self, role: Role, parent: Option<TagId>) -> TagId {
        let id = self.entries.len();
        self.entries.push(Entry { role, children: Vec::new(), content: Vec::new() });
        match parent {
            Some(parent) => self.entries[parent].children.push(id),
            None => self.top.push(id),
        }
        id
    }

    /// What a tag is.
    pub fn role(&self, id: TagId) -> &Role {
        &self.entries[id].role
    }

    /// Content that was painted under a tag.
    pub fn painted(&mut self, id: TagId, content: Identifier) {
        if id != FURNITURE {
            self.entries[id].content.push(content);
        }
    }

    /// The tree for the document.
    pub fn tree(mut self) -> TagTree {
        let mut tree = TagTree::new().with_lang(Some("en".into()));
        for id in std::mem::take(&mut self.top) {
            if let Some(group) = self.group(id) {
                tree.push(group);
            }
        }
        tree
    }

    /// `None` where nothing was painted.
    fn group(&mut self, id: TagId) -> Option<TagGroup> {
        let children = std::mem::take(&mut self.entries[id].children);
        let mut nodes: Vec<Node> = std::mem::take(&mut self.entries[id].content).into_iter().map(Node::from).collect();
        nodes.extend(children.into_iter().filter_map(|child| self.group(child)).map(Node::from));
        if nodes.is_empty() {
            return None;
        }
        let level = |n: u16| NonZeroU16::new(n).unwrap_or(NonZeroU16::MIN);
        Some(match &self.entries[id].role {
            Role::Heading(n) => TagGroup::with_children(Tag::Hn(level(*n), None), nodes),
            Role::Paragraph | Role::Artifact => TagGroup::with_children(Tag::P, nodes),
            Role::Figure(alt) => TagGroup::with_children(Tag::Figure(Some(alt.clone())), nodes),
            Role::Table => TagGroup::with_children(Tag::Table, nodes),
            Role::Row => TagGroup::with_children(Tag::TR, nodes),
            Role::HeadCell => TagGroup::with_children(Tag::TH(TableHeaderScope::Column), nodes),
            Role::Cell => TagGroup::with_children(Tag::TD, nodes),
            Role::List => TagGroup::with_children(Tag::L(ListNumbering::None), nodes),
            Role::Item => {
                TagGroup::with_children(Tag::LI, vec![Node::from(TagGroup::with_children(Tag::LBody, nodes))])
            }
        })
    }
}
