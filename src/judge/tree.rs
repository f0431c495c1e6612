//! The undecided matches: chains that share their beginnings, as a tree with a pool of nodes.

use super::rows::Row;

/// One match.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pair {
    /// Index of the expected note.
    pub note: u32,
    /// Number of the played note.
    pub played: u32,
    /// The displacement row in which they met.
    pub row: Row,
}

/// A node of the tree: the chain from the root to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NodeId(u32);

#[derive(Clone, Copy)]
struct Node {
    pair: Pair,
    parent: NodeId,
    /// Children and tips that hang on this node; one that nothing hangs on is free.
    holders: u32,
}

/// Everything at and above the root is final; every leaf is a chain that may still turn out best.
pub struct Tree {
    nodes: Vec<Node>,
    free: Vec<NodeId>,
    root: NodeId,
    path: Vec<NodeId>,
}

/// Undecided matches that are held without allocating; more are allowed.
const ROOM: usize = 4096;

impl Default for Tree {
    fn default() -> Tree {
        Tree::new()
    }
}

impl Tree {
    /// A tree of the empty chain.
    pub fn new() -> Tree {
        let nothing = Pair {
            note: u32::MAX,
            played: u32::MAX,
            row: 0,
        };
        let mut nodes = Vec::with_capacity(ROOM);
        nodes.push(Node {
            pair: nothing,
            parent: NodeId(0),
            holders: 0,
        });
        Tree {
            nodes,
            free: Vec::with_capacity(ROOM),
            root: NodeId(0),
            path: Vec::with_capacity(ROOM),
        }
    }

    /// The last final match, or the empty chain.
    pub fn root(&self) -> NodeId {
        self.root
    }

    /// A chain one match longer. It is the caller's to [`hold`](Tree::hold) or to [`discard`](Tree::discard).
    pub fn grow(&mut self, parent: NodeId, pair: Pair) -> NodeId {
        self.node(parent).holders += 1;
        let node = Node {
            pair,
            parent,
            holders: 0,
        };
        if let Some(id) = self.free.pop() {
            *self.node(id) = node;
            return id;
        }
        self.nodes.push(node);
        NodeId(self.nodes.len() as u32 - 1)
    }

    /// Marks the chain as one that may still be best.
    pub fn hold(&mut self, id: NodeId) {
        self.node(id).holders += 1;
    }

    /// Lets go of a chain that was held.
    pub fn release(&mut self, id: NodeId) {
        self.node(id).holders -= 1;
        self.discard(id);
    }

    /// Frees a chain that nothing holds, down to where others share it.
    pub fn discard(&mut self, mut id: NodeId) {
        while id != self.root && self.node(id).holders == 0 {
            let parent = self.node(id).parent;
            self.free.push(id);
            self.node(parent).holders -= 1;
            id = parent;
        }
    }

    /// The matches of a chain that are not final, latest first.
    pub fn path(&self, mut id: NodeId) -> impl Iterator<Item = Pair> + '_ {
        std::iter::from_fn(move || {
            let node = self.nodes[id.0 as usize];
            (id != self.root).then(|| {
                id = node.parent;
                node.pair
            })
        })
    }

    /// Makes final what all `tips` share: the root moves up as long as it is no tip and has one child.
    pub fn settle(
        &mut self,
        tips: impl Iterator<Item = NodeId> + Clone,
        settled: &mut impl FnMut(Pair),
    ) {
        let undivided = |tree: &Tree| tree.nodes[tree.root.0 as usize].holders == 1;
        let Some(any) = tips.clone().next() else {
            return;
        };
        if !undivided(self) || any == self.root {
            return;
        }
        self.trace(any);
        while undivided(self) && !tips.clone().any(|tip| tip == self.root) {
            let Some(child) = self.path.pop() else { break };
            self.climb(child, settled);
        }
    }

    /// Makes a whole chain final; every other one must have been released.
    pub fn settle_all(&mut self, tip: NodeId, settled: &mut impl FnMut(Pair)) {
        self.trace(tip);
        while let Some(child) = self.path.pop() {
            self.climb(child, settled);
        }
    }

    fn climb(&mut self, child: NodeId, settled: &mut impl FnMut(Pair)) {
        self.free.push(self.root);
        self.root = child;
        settled(self.node(child).pair);
    }

    fn trace(&mut self, mut id: NodeId) {
        self.path.clear();
        while id != self.root {
            self.path.push(id);
            id = self.nodes[id.0 as usize].parent;
        }
    }

    fn node(&mut self, id: NodeId) -> &mut Node {
        &mut self.nodes[id.0 as usize]
    }
}
