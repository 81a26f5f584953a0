package markup

import (
	"strconv"
	"strings"
)

// A Node is anything that can write itself as markup: an element, a text, an
// attribute, a group.
type Node interface {
	write(*writer)
}

// El is an element. Attributes may stand anywhere among its children; they are
// written into the opening tag in order. A nil child is passed over, so that a
// condition can be written where its result belongs.
func El(tag string, children ...Node) Node { return element{tag, children} }

// Text is character data; everything that markup would read as its own is escaped.
func Text(s string) Node { return text(s) }

// Int is a whole number as text.
func Int(n int) Node { return text(strconv.Itoa(n)) }

// Attr is an attribute with a value.
func Attr(name, value string) Node { return attribute{name, value} }

// Flag is an attribute without a value, written only when on.
func Flag(name string, on bool) Node {
	if !on {
		return nil
	}
	return flag(name)
}

// Group stands for its members, in order.
func Group(nodes ...Node) Node { return group(nodes) }

// If gives the node when the condition holds and nothing otherwise.
func If(condition bool, node Node) Node {
	if !condition {
		return nil
	}
	return node
}

// Each makes one node of every item.
func Each[T any](items []T, node func(T) Node) Node {
	nodes := make(group, 0, len(items))
	for _, item := range items {
		nodes = append(nodes, node(item))
	}
	return nodes
}

// String writes a node as text.
func String(n Node) string {
	var w writer
	if n != nil {
		n.write(&w)
	}
	return w.String()
}

type (
	element struct {
		tag      string
		children []Node
	}
	attribute struct{ name, value string }
	flag      string
	text      string
	group     []Node
)

// writer separates what goes into the opening tag from what goes between the
// tags: an attribute is written only while a tag is open, anything else only
// when it is closed.
type writer struct {
	strings.Builder
	inTag bool
}

var (
	escapeText  = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")
	escapeValue = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;")
)

func (e element) write(w *writer) {
	if w.inTag {
		return
	}
	w.WriteByte('<')
	w.WriteString(e.tag)
	w.inTag = true
	for _, c := range e.children {
		if c != nil {
			c.write(w)
		}
	}
	w.inTag = false
	w.WriteByte('>')
	if void[e.tag] {
		return
	}
	for _, c := range e.children {
		if c != nil {
			c.write(w)
		}
	}
	w.WriteString("</")
	w.WriteString(e.tag)
	w.WriteByte('>')
}

func (a attribute) write(w *writer) {
	if !w.inTag {
		return
	}
	w.WriteByte(' ')
	w.WriteString(a.name)
	w.WriteString(`="`)
	_, _ = escapeValue.WriteString(w, a.value)
	w.WriteByte('"')
}

func (f flag) write(w *writer) {
	if w.inTag {
		w.WriteByte(' ')
		w.WriteString(string(f))
	}
}

func (t text) write(w *writer) {
	if !w.inTag {
		_, _ = escapeText.WriteString(w, string(t))
	}
}

func (g group) write(w *writer) {
	for _, n := range g {
		if n != nil {
			n.write(w)
		}
	}
}

// void elements have no content and no closing tag (HTML, "void elements").
var void = map[string]bool{
	"br": true, "hr": true, "img": true, "input": true, "link": true, "meta": true,
}
