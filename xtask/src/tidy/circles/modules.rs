//! The modules of a crate, what each defines, and what it names of the others.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use proc_macro2::{TokenStream, TokenTree};
use syn::visit::{self, Visit};
use syn::{Attribute, Item, UseTree, Visibility};

use super::graph::Needs;

/// A path as it is written, segment by segment.
type Names = Vec<String>;

/// A crate's files as modules; the first is its root.
pub struct Crate(Vec<Module>);

#[derive(Default)]
struct Module {
    file: String,
    parent: Option<usize>,
    children: BTreeMap<String, usize>,
    defines: BTreeSet<String>,
    /// Names that a `use` brings, and the path that it brings them from.
    brings: BTreeMap<String, Names>,
    /// Modules all of whose names it brings.
    globs: Vec<Names>,
    /// What it names for its own use.
    names: BTreeSet<Names>,
}

impl Crate {
    /// Reads a crate from its root file on.
    pub fn read(root: &Path) -> Result<Self> {
        let mut all = Self(Vec::new());
        let folder = root.parent().unwrap_or(Path::new(""));
        all.add(root, folder, None)?;
        Ok(all)
    }

    /// Which file needs which, by their paths.
    pub fn needs(&self) -> Needs {
        let mut needs = Needs::new();
        for (at, module) in self.0.iter().enumerate() {
            let others = needs.entry(module.file.clone()).or_default();
            let found = module.names.iter().filter_map(|names| self.home(at, names, 0));
            others.extend(found.filter(|&to| to != at).map(|to| self.0[to].file.clone()));
        }
        needs
    }

    /// Adds a file and its children, which lie in `folder`; gives its place.
    fn add(&mut self, path: &Path, folder: &Path, parent: Option<usize>) -> Result<usize> {
        let text =
            fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))?;
        let file = syn::parse_file(&text)
            .with_context(|| format!("{}: no Rust that can be read", path.display()))?;
        let at = self.0.len();
        let name = path.to_string_lossy().replace('\\', "/");
        self.0.push(Module { file: name, parent, ..Module::default() });
        let mut module = std::mem::take(&mut self.0[at]);
        let mut children = Vec::new();
        let mut reader = Reader { module: &mut module, children: &mut children };
        file.items.iter().for_each(|item| reader.item(item));
        self.0[at] = module;
        for (child, elsewhere) in children {
            let own: PathBuf = folder.join(format!("{child}.rs"));
            let beside = path.parent().unwrap_or(Path::new(""));
            let file = elsewhere.map_or(own, |elsewhere| beside.join(elsewhere));
            let index = self.add(&file, &folder.join(&child), Some(at))?;
            self.0[at].children.insert(child, index);
        }
        Ok(at)
    }

    /// The module that defines what `names` leads to from the module `at`; `None` for modules
    /// themselves and for what other crates define.
    fn home(&self, at: usize, names: &[String], depth: usize) -> Option<usize> {
        let (first, rest) = names.split_first()?;
        // Re-exports of one another could lead in circles of their own.
        if depth > 16 {
            return None;
        }
        let module = &self.0[at];
        match first.as_str() {
            "crate" => return self.home(0, rest, depth + 1),
            "self" => return self.home(at, rest, depth + 1),
            "super" => return self.home(module.parent?, rest, depth + 1),
            _ => {}
        }
        if module.defines.contains(first) {
            return Some(at);
        }
        if let Some(&child) = module.children.get(first) {
            return self.home(child, rest, depth + 1);
        }
        if let Some(path) = module.brings.get(first) {
            let whole: Names = path.iter().chain(rest).cloned().collect();
            // A name that is brought from a crate of the same name.
            return (path.first() != Some(first)).then(|| self.home(at, &whole, depth + 1))?;
        }
        let in_glob = |glob: &Names| {
            let whole: Names = glob.iter().chain(names).cloned().collect();
            self.home(at, &whole, depth + 1)
        };
        module.globs.iter().find_map(in_glob)
    }
}

/// Takes what a file's items define, bring and name.
struct Reader<'a> {
    module: &'a mut Module,
    /// Modules in files of their own, and where such a file is said to lie.
    children: &'a mut Vec<(String, Option<String>)>,
}

impl Reader<'_> {
    fn item(&mut self, item: &Item) {
        let (name, attributes) = match item {
            Item::Const(item) => (Some(&item.ident), &item.attrs),
            Item::Enum(item) => (Some(&item.ident), &item.attrs),
            Item::Fn(item) => (Some(&item.sig.ident), &item.attrs),
            Item::Static(item) => (Some(&item.ident), &item.attrs),
            Item::Struct(item) => (Some(&item.ident), &item.attrs),
            Item::Trait(item) => (Some(&item.ident), &item.attrs),
            Item::Type(item) => (Some(&item.ident), &item.attrs),
            Item::Union(item) => (Some(&item.ident), &item.attrs),
            Item::Mod(item) => (None, &item.attrs),
            Item::Use(item) => (None, &item.attrs),
            Item::Impl(item) => (None, &item.attrs),
            Item::Macro(item) => (None, &item.attrs),
            _ => return,
        };
        if attributes.iter().any(is_for_tests) {
            return;
        }
        if let Some(name) = name {
            self.module.defines.insert(name.to_string());
        }
        match item {
            Item::Mod(item) => match &item.content {
                None => self.children.push((item.ident.to_string(), elsewhere(&item.attrs))),
                // A module within the file is the file's own.
                Some((_, items)) => items.iter().for_each(|item| self.item(item)),
            },
            Item::Use(item) => {
                let own = matches!(item.vis, Visibility::Inherited);
                self.bring(&item.tree, Names::new(), own);
            }
            other => self.visit_item(other),
        }
    }

    /// Takes a `use`. `own`: it brings what is needed here, and hands nothing on.
    fn bring(&mut self, tree: &UseTree, mut path: Names, own: bool) {
        match tree {
            UseTree::Path(tree) => {
                path.push(tree.ident.to_string());
                self.bring(&tree.tree, path, own);
            }
            UseTree::Group(group) => {
                group.items.iter().for_each(|tree| self.bring(tree, path.clone(), own));
            }
            UseTree::Glob(_) => self.module.globs.push(path),
            UseTree::Name(tree) => self.brought(tree.ident.to_string(), None, path, own),
            UseTree::Rename(tree) => {
                self.brought(tree.ident.to_string(), Some(tree.rename.to_string()), path, own);
            }
        }
    }

    fn brought(&mut self, name: String, rename: Option<String>, mut path: Names, own: bool) {
        // `use a::b::{self}` brings `b`.
        let known_as = if name == "self" { path.last().cloned() } else { Some(name.clone()) };
        if name != "self" {
            path.push(name);
        }
        let Some(known_as) = rename.or(known_as) else { return };
        if own {
            self.module.names.insert(path.clone());
        }
        self.module.brings.insert(known_as, path);
    }

    /// Takes the paths among the words of a macro.
    fn words(&mut self, tokens: TokenStream) {
        let mut path = Names::new();
        let mut colons = 0;
        for token in tokens {
            match token {
                TokenTree::Ident(name) => {
                    if colons != 2 {
                        self.name(std::mem::take(&mut path));
                    }
                    path.push(name.to_string());
                    colons = 0;
                }
                TokenTree::Punct(sign) if sign.as_char() == ':' => colons += 1,
                other => {
                    self.name(std::mem::take(&mut path));
                    colons = 0;
                    if let TokenTree::Group(group) = other {
                        self.words(group.stream());
                    }
                }
            }
        }
        self.name(path);
    }

    fn name(&mut self, path: Names) {
        if !path.is_empty() {
            self.module.names.insert(path);
        }
    }
}

impl<'a> Visit<'a> for Reader<'_> {
    fn visit_path(&mut self, path: &'a syn::Path) {
        self.name(path.segments.iter().map(|segment| segment.ident.to_string()).collect());
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, item: &'a syn::Macro) {
        self.visit_path(&item.path);
        self.words(item.tokens.clone());
    }

    fn visit_item_use(&mut self, item: &'a syn::ItemUse) {
        self.bring(&item.tree, Names::new(), true);
    }

    fn visit_impl_item_fn(&mut self, item: &'a syn::ImplItemFn) {
        if !item.attrs.iter().any(is_for_tests) {
            visit::visit_impl_item_fn(self, item);
        }
    }
}

/// The file that `#[path = "..."]` names.
fn elsewhere(attributes: &[Attribute]) -> Option<String> {
    let value = attributes.iter().find_map(|attribute| match &attribute.meta {
        syn::Meta::NameValue(pair) if pair.path.is_ident("path") => Some(&pair.value),
        _ => None,
    })?;
    match value {
        syn::Expr::Lit(syn::ExprLit { lit: syn::Lit::Str(text), .. }) => Some(text.value()),
        _ => None,
    }
}

/// `#[test]`, `#[cfg(test)]` and what is like it.
fn is_for_tests(attribute: &Attribute) -> bool {
    let tokens = match &attribute.meta {
        syn::Meta::List(list) if list.path.is_ident("cfg") => list.tokens.to_string(),
        meta => return meta.path().is_ident("test"),
    };
    tokens.split(|c: char| !c.is_alphanumeric()).any(|word| word == "test")
}
