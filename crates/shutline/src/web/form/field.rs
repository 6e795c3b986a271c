//! Fields of a form: each shows what was typed, what is wanted and what is wrong with it.

use super::Typed;
use maud::{Markup, Render, html};

impl Typed {
    /// A field of one line.
    pub fn field<'a>(&'a self, name: &'a str, label: &'a str) -> Field<'a> {
        Field {
            typed: self,
            name,
            label,
            kind: "text",
            unit: "",
            hint: "",
            required: false,
            list: &[],
            wide: false,
        }
    }

    /// Several lines of text.
    pub fn area(&self, name: &str, label: &str, hint: &str, rows: u32) -> Markup {
        let id = self.id(name);
        html! {
            div.field.broad {
                label for=(id) { (label) }
                (self.hint(name, hint))
                textarea id=(id) name=(name) rows=(rows) aria-describedby=[self.described(name, hint)]
                    aria-invalid=[self.invalid(name)] { "\n" (self.get(name)) }
                (self.complaint(name))
            }
        }
    }

    /// A list to choose one from. Empty values stand for nothing chosen.
    pub fn select<V: AsRef<str>, L: AsRef<str>>(
        &self,
        name: &str,
        label: &str,
        choices: &[(V, L)],
    ) -> Markup {
        let id = self.id(name);
        html! {
            div.field {
                label for=(id) { (label) }
                select id=(id) name=(name) aria-invalid=[self.invalid(name)] aria-describedby=[self.described(name, "")] {
                    @for (value, words) in choices {
                        option value=(value.as_ref()) selected[self.get(name) == value.as_ref()] { (words.as_ref()) }
                    }
                }
                (self.complaint(name))
            }
        }
    }

    /// One of a few, all in sight.
    pub fn choice<V: AsRef<str>, L: AsRef<str>>(
        &self,
        name: &str,
        label: &str,
        choices: &[(V, L)],
    ) -> Markup {
        self.ticks_of("radio", name, label, choices)
    }

    /// Any of a few.
    pub fn ticks<V: AsRef<str>, L: AsRef<str>>(&self, name: &str, label: &str, choices: &[(V, L)]) -> Markup {
        self.ticks_of("checkbox", name, label, choices)
    }

    fn ticks_of<V: AsRef<str>, L: AsRef<str>>(
        &self,
        kind: &str,
        name: &str,
        label: &str,
        choices: &[(V, L)],
    ) -> Markup {
        html! {
            fieldset.field.broad aria-describedby=[self.described(name, "")] {
                legend { (label) }
                div.ticks { @for (value, words) in choices {
                    label.tick {
                        input type=(kind) name=(name) value=(value.as_ref()) checked[self.holds(name, value.as_ref())];
                        span { (words.as_ref()) }
                    }
                } }
                (self.complaint(name))
            }
        }
    }

    /// Yes or no.
    pub fn tick(&self, name: &str, label: &str) -> Markup {
        self.tick_of(name, label, false)
    }

    /// What has to be ticked before the form can go, also while there is no connection that could refuse it.
    pub fn must(&self, name: &str, label: &str) -> Markup {
        self.tick_of(name, label, true)
    }

    fn tick_of(&self, name: &str, label: &str, required: bool) -> Markup {
        html! {
            label.tick {
                input type="checkbox" name=(name) value="on" required[required] checked[self.on(name)] aria-describedby=[self.described(name, "")] aria-invalid=[self.invalid(name)];
                span { (label) }
            }
            (self.complaint(name))
        }
    }

    /// A file to be chosen, of the kinds in `accept`.
    pub fn file(&self, name: &str, label: &str, hint: &str, accept: &str) -> Markup {
        html! {
            div.field {
                label for=(self.id(name)) { (label) }
                (self.hint(name, hint))
                input type="file" id=(self.id(name)) name=(name) accept=(accept) aria-describedby=[self.described(name, hint)] aria-invalid=[self.invalid(name)];
                (self.complaint(name))
                (self.again(&[name]))
            }
        }
    }

    /// Which files have to be chosen again after a form came back.
    pub fn again(&self, names: &[&str]) -> Markup {
        let again: Vec<&str> = names.iter().flat_map(|n| self.files(n)).map(|f| f.name.as_str()).collect();
        html! { @if !again.is_empty() {
            p.complaint { "A browser does not keep files. Choose again: " (again.join(", ")) "." }
        } }
    }

    /// The id of a field on the page.
    pub fn id(&self, name: &str) -> String {
        format!("{}-{name}", self.form)
    }

    fn hint(&self, name: &str, hint: &str) -> Markup {
        html! { @if !hint.is_empty() { small.quiet id={ (self.id(name)) "-hint" } { (hint) } } }
    }

    fn complaint(&self, name: &str) -> Markup {
        html! { @if let Some(what) = self.complaints.get(name) {
            p.complaint id={ (self.id(name)) "-bad" } { (what) }
        } }
    }

    fn described(&self, name: &str, hint: &str) -> Option<String> {
        let id = self.id(name);
        match (hint.is_empty(), self.complaints.contains_key(name)) {
            (true, false) => None,
            (false, false) => Some(format!("{id}-hint")),
            (true, true) => Some(format!("{id}-bad")),
            (false, true) => Some(format!("{id}-hint {id}-bad")),
        }
    }

    fn invalid(&self, name: &str) -> Option<&'static str> {
        self.complaints.contains_key(name).then_some("true")
    }
}

/// A field of one line, on its way onto the page.
#[derive(Clone, Copy)]
pub struct Field<'a> {
    typed: &'a Typed,
    name: &'a str,
    label: &'a str,
    kind: &'a str,
    unit: &'a str,
    hint: &'a str,
    required: bool,
    list: &'a [&'a str],
    wide: bool,
}

impl<'a> Field<'a> {
    /// Of another kind than text: `date`, `time`, `datetime-local`, `email`, `tel`, `search`, `password`, `file`.
    pub fn kind(mut self, kind: &'a str) -> Self {
        self.kind = kind;
        self
    }

    /// A number with its unit, which stands beside the label.
    pub fn unit(mut self, unit: &'a str) -> Self {
        self.kind = "number";
        self.unit = unit;
        self
    }

    /// A number without unit.
    pub fn numeric(self) -> Self {
        self.unit("")
    }

    /// A PIN: hidden while it is typed, with a keyboard of digits.
    pub fn pin(mut self) -> Self {
        self.kind = "pin";
        self
    }

    /// With a word on what is wanted.
    pub fn hint(mut self, hint: &'a str) -> Self {
        self.hint = hint;
        self
    }

    /// Must be filled.
    pub fn required(mut self) -> Self {
        self.required = true;
        self
    }

    /// With proposals.
    pub fn list(mut self, list: &'a [&'a str]) -> Self {
        self.list = list;
        self
    }

    /// As wide as the form.
    pub fn wide(mut self) -> Self {
        self.wide = true;
        self
    }
}

impl Render for Field<'_> {
    fn render(&self) -> Markup {
        let Field { typed, name, label, .. } = *self;
        let id = typed.id(name);
        // Numbers are typed as text with a numeric keyboard: a browser's number field loses what it cannot read.
        let number = self.kind == "number";
        let pin = self.kind == "pin";
        let kind = match self.kind {
            "number" => "text",
            "pin" => "password",
            other => other,
        };
        let keyboard = if pin { Some("numeric") } else { number.then_some("decimal") };
        // A secret is never put back.
        let shown = (!matches!(kind, "file" | "password")).then(|| typed.get(name));
        let list = (!self.list.is_empty()).then(|| format!("{id}-list"));
        html! {
            div.field.broad[self.wide] {
                label for=(id) { (label) @if !self.unit.is_empty() { span.u { ", " (self.unit) } } }
                (typed.hint(name, self.hint))
                input id=(id) name=(name) type=(kind) inputmode=[keyboard]
                    value=[shown] required[self.required]
                    list=[list.as_ref()] autocomplete="off" step=[(kind == "time").then_some("60")]
                    aria-describedby=[typed.described(name, self.hint)] aria-invalid=[typed.invalid(name)];
                @if let Some(list) = &list { datalist id=(list) { @for word in self.list { option value=(word); } } }
                (typed.complaint(name))
            }
        }
    }
}
