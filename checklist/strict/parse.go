package strict

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

const (
	// MaxSize bounds a document in bytes: the largest plan the format allows (500 mounts) has about 300 kB, and a phone
	// must be able to hold several.
	MaxSize = 1 << 20

	// MaxDepth bounds nesting: a plan needs 6 levels; more costs stack for nothing.
	MaxDepth = 16
)

type kind uint8

const (
	null kind = iota
	boolean
	number
	text
	array
	object
)

var kindNames = [...]string{"null", "true or false", "a number", "a text", "an array", "an object"}

// A node is one value of the document. Text holds a decoded string, the digits of a number, or true or false.
type node struct {
	kind  kind
	at    int // byte offset of its first byte
	text  string
	keys  []key // of an object, in document order
	items []*node
}

type key struct {
	name string
	at   int
}

// shown is a value as a message repeats it.
func (n *node) shown() string {
	switch n.kind {
	case text:
		return Quote(n.text)
	case number, boolean:
		return Shorten(n.text)
	default:
		return kindNames[n.kind]
	}
}

// find follows a pointer as far as it leads.
func (n *node) find(pointer string) *node {
	if pointer == "" {
		return n
	}
next:
	for token := range strings.SplitSeq(pointer[1:], "/") {
		token = unescape.Replace(token)
		if n.kind == array {
			if i, err := strconv.Atoi(token); err == nil && 0 <= i && i < len(n.items) {
				n = n.items[i]
				continue next
			}
			return n
		}
		for i, k := range n.keys {
			if k.name == token {
				n = n.items[i]
				continue next
			}
		}
		return n
	}
	return n
}

// parse reads one JSON text (RFC 8259) into a tree. A syntax problem ends it: what follows one cannot be trusted.
func parse(data []byte) (*node, *Problem) {
	if len(data) > MaxSize {
		return nil, &Problem{Read: fmt.Sprintf("%d bytes", len(data)), Want: fmt.Sprintf("at most %d bytes", MaxSize)}
	}
	if !utf8.Valid(data) {
		at := 0
		for at < len(data) {
			r, n := utf8.DecodeRune(data[at:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			at += n
		}
		return nil, &Problem{Read: fmt.Sprintf("byte 0x%02x at %s", data[at], lineColumn(data, at)), Want: "UTF-8 text", at: at}
	}
	p := parser{data: data}
	root, ok := p.value(1)
	if ok {
		if p.space(); p.i < len(data) {
			ok = p.fail("the end of the document")
		}
	}
	if !ok {
		return nil, p.problem
	}
	return root, nil
}

// lineColumn says where a byte is as an editor counts: from 1, columns in characters.
func lineColumn(data []byte, at int) string {
	before := data[:at]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := 1 + utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:])
	return fmt.Sprintf("line %d, column %d", line, column)
}

type parser struct {
	data    []byte
	i       int
	problem *Problem
}

func (p *parser) fail(want string) bool {
	read := "the end of the document"
	if p.i < len(p.data) {
		r, _ := utf8.DecodeRune(p.data[p.i:])
		read = strconv.QuoteRune(r) + " at " + lineColumn(p.data, p.i)
	}
	p.problem = &Problem{Read: read, Want: want, at: p.i}
	return false
}

func (p *parser) space() {
	for p.i < len(p.data) && strings.IndexByte(" \t\r\n", p.data[p.i]) >= 0 {
		p.i++
	}
}

// peek is the next byte after white space, 0 at the end.
func (p *parser) peek() byte {
	p.space()
	if p.i < len(p.data) {
		return p.data[p.i]
	}
	return 0
}

func (p *parser) value(depth int) (*node, bool) {
	c := p.peek()
	n := &node{at: p.i}
	if (c == '{' || c == '[') && depth > MaxDepth {
		return nil, p.fail(fmt.Sprintf("at most %d levels of nesting", MaxDepth))
	}
	switch {
	case c == '{':
		return n, p.object(n, depth)
	case c == '[':
		return n, p.array(n, depth)
	case c == '"':
		s, ok := p.string()
		n.kind, n.text = text, s
		return n, ok
	case c == '-' || '0' <= c && c <= '9':
		n.kind = number
		return n, p.number(n)
	}
	for _, word := range [...]string{"null", "true", "false"} {
		if bytes.HasPrefix(p.data[p.i:], []byte(word)) {
			p.i += len(word)
			if n.text = word; word != "null" {
				n.kind = boolean
			}
			return n, true
		}
	}
	return nil, p.fail("a JSON value")
}

func (p *parser) object(n *node, depth int) bool {
	n.kind = object
	p.i++
	if p.peek() == '}' {
		p.i++
		return true
	}
	for {
		if p.peek() != '"' {
			return p.fail("a key in double quotes")
		}
		k := key{at: p.i}
		var ok bool
		if k.name, ok = p.string(); !ok {
			return false
		}
		if p.peek() != ':' {
			return p.fail("a colon after the key")
		}
		p.i++
		v, ok := p.value(depth + 1)
		if !ok {
			return false
		}
		n.keys, n.items = append(n.keys, k), append(n.items, v)
		switch p.peek() {
		case ',':
			p.i++
		case '}':
			p.i++
			return true
		default:
			return p.fail("a comma or the end of the object")
		}
	}
}

func (p *parser) array(n *node, depth int) bool {
	n.kind = array
	p.i++
	if p.peek() == ']' {
		p.i++
		return true
	}
	for {
		v, ok := p.value(depth + 1)
		if !ok {
			return false
		}
		n.items = append(n.items, v)
		switch p.peek() {
		case ',':
			p.i++
		case ']':
			p.i++
			return true
		default:
			return p.fail("a comma or the end of the array")
		}
	}
}

func (p *parser) digits() bool {
	start := p.i
	for p.i < len(p.data) && '0' <= p.data[p.i] && p.data[p.i] <= '9' {
		p.i++
	}
	return p.i > start || p.fail("a digit")
}

func (p *parser) take(any string) bool {
	if p.i < len(p.data) && strings.IndexByte(any, p.data[p.i]) >= 0 {
		p.i++
		return true
	}
	return false
}

func (p *parser) number(n *node) bool {
	p.take("-")
	if !p.take("0") && !p.digits() { // no leading zeros
		return false
	}
	if p.take(".") && !p.digits() {
		return false
	}
	if p.take("eE") {
		p.take("+-")
		if !p.digits() {
			return false
		}
	}
	n.text = string(p.data[n.at:p.i])
	return true
}

// string reads a string literal. A lone surrogate has no UTF-8 form, so it is a problem and not replaced.
func (p *parser) string() (string, bool) {
	p.i++
	start := p.i
	for p.i < len(p.data) && p.data[p.i] >= ' ' && p.data[p.i] != '"' && p.data[p.i] != '\\' {
		p.i++
	}
	if p.i < len(p.data) && p.data[p.i] == '"' { // no escapes: the usual case
		p.i++
		return string(p.data[start : p.i-1]), true
	}
	out := append([]byte(nil), p.data[start:p.i]...)
	for p.i < len(p.data) {
		c := p.data[p.i]
		switch {
		case c == '"':
			p.i++
			return string(out), true
		case c < ' ':
			return "", p.fail("control characters escaped")
		case c == '\\':
			r, ok := p.escape()
			if !ok {
				return "", false
			}
			out = utf8.AppendRune(out, r)
		default:
			out = append(out, c)
			p.i++
		}
	}
	return "", p.fail("the closing quote of a text")
}

func (p *parser) escape() (rune, bool) {
	p.i++
	if p.i == len(p.data) {
		return 0, p.fail("an escape")
	}
	if i := strings.IndexByte(`"\/bfnrt`, p.data[p.i]); i >= 0 {
		p.i++
		return rune("\"\\/\b\f\n\r\t"[i]), true
	}
	r, ok := p.unit()
	if !ok {
		return 0, false
	}
	if !utf16.IsSurrogate(r) {
		return r, true
	}
	if p.i < len(p.data) && p.data[p.i] == '\\' {
		p.i++
		low, ok := p.unit()
		if !ok {
			return 0, false
		}
		if r = utf16.DecodeRune(r, low); r != utf8.RuneError {
			return r, true
		}
	}
	return 0, p.fail("a whole character: surrogates come in pairs")
}

// unit reads uXXXX, one UTF-16 code unit.
func (p *parser) unit() (rune, bool) {
	if p.i+5 > len(p.data) || p.data[p.i] != 'u' {
		return 0, p.fail(`one of \" \\ \/ \b \f \n \r \t \uXXXX`)
	}
	v, err := strconv.ParseUint(string(p.data[p.i+1:p.i+5]), 16, 16)
	if err != nil {
		return 0, p.fail("four hexadecimal digits")
	}
	p.i += 5
	return rune(v), true
}
