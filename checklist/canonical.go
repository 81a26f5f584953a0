package checklist

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Reading a log means reading thousands of envelopes that this program wrote, all
// spelled alike. What is spelled so is read here in one pass; anything else goes
// the general way, and both give the same entry or the same complaint. Records are
// written here too, as encoding/json would.

// cursor walks over text that is expected to be spelled in one way.
type cursor struct {
	rest string
	ok   bool
}

// skip passes over a text that has to stand next.
func (c *cursor) skip(text string) {
	if rest, ok := strings.CutPrefix(c.rest, text); ok && c.ok {
		c.rest = rest
		return
	}
	c.ok = false
}

// has passes over a text if it stands next.
func (c *cursor) has(text string) bool {
	rest, ok := strings.CutPrefix(c.rest, text)
	if c.ok && ok {
		c.rest = rest
	}
	return c.ok && ok
}

// plain reads up to the quote that ends a string without escapes or control characters.
func (c *cursor) plain() string {
	for i := 0; c.ok && i < len(c.rest); i++ {
		switch b := c.rest[i]; {
		case b == '"':
			text := c.rest[:i]
			c.rest = c.rest[i+1:]
			return text
		case b == '\\' || b < ' ':
			c.ok = false
		}
	}
	c.ok = false
	return ""
}

// number reads a whole number without sign or leading noughts.
func (c *cursor) number() int64 {
	end := 0
	for end < len(c.rest) && c.rest[end] >= '0' && c.rest[end] <= '9' {
		end++
	}
	n, err := strconv.ParseInt(c.rest[:end], 10, 64)
	if err != nil || (end > 1 && c.rest[0] == '0') {
		c.ok = false
		return 0
	}
	c.rest = c.rest[end:]
	return n
}

// given reads a text that would have been left out if it were empty.
func (c *cursor) given() string {
	text := c.plain()
	c.ok = c.ok && text != ""
	return text
}

// after reads a key of an object whose keys ascend, as those of a map are written.
func (c *cursor) after(last string, first bool) string {
	key := c.plain()
	c.ok = c.ok && (first || key > last)
	return key
}

// signed reads a whole number that may be below zero.
func (c *cursor) signed() int64 {
	if !c.has("-") {
		return c.number()
	}
	n := c.number()
	if n == 0 {
		c.ok = false
	}
	return -n
}

// canonicalEntry reads an envelope as [NewEntry] spells it. ok is false for every
// other spelling.
func canonicalEntry(raw []byte) (e Entry, ok bool) {
	// The texts of the envelope stay in memory with a copy of it, the body does not.
	envelope, body, _ := bytes.Cut(raw, []byte(`,"body":`))
	c := cursor{string(envelope), true}
	c.skip(`{"v":`)
	e.Version = int(c.number())
	c.skip(`,"id":"`)
	e.ID = c.plain()
	c.skip(`,"job":"`)
	e.Job = c.plain()
	c.skip(`,"device":"`)
	e.Device = c.plain()
	c.skip(`,"n":`)
	e.Number = c.number()
	c.skip(`,"seen":`)
	e.Seen = c.number()
	c.skip(`,"who":"`)
	e.Who = c.plain()
	c.skip(`,"role":"`)
	e.Role = Role(c.plain())
	c.skip(`,"clock":"`)
	e.Clock = c.plain()
	c.skip(`,"plan":`)
	e.Plan = int(c.number())
	c.skip(`,"kind":"`)
	e.Kind = Kind(c.plain())
	body, closed := bytes.CutSuffix(body, []byte("}"))
	if !c.ok || c.rest != "" || !closed || !bytes.HasPrefix(body, []byte("{")) || !bytes.HasSuffix(body, []byte("}")) {
		return Entry{}, false
	}
	e.Body = slices.Clip(body)
	return e, json.Valid(e.Body)
}

// canonicalRecording reads a recording as [NewEntry] spells it, with plain texts and
// without photos. ok is false for every other spelling.
func canonicalRecording(body []byte) (b Recording, ok bool) {
	c := cursor{string(body), true}
	c.skip(`{"step":"`)
	b.Step = c.plain()
	if c.has(`,"mount":"`) {
		b.Mount = c.given()
	}
	if c.has(`,"measured":{`) {
		b.Measured = map[string][]int64{}
		key := ""
		for more := true; c.ok && more; more = c.has(",") {
			c.skip(`"`)
			key = c.after(key, len(b.Measured) == 0)
			c.skip(`:[`)
			readings := []int64{c.signed()}
			for c.has(",") {
				readings = append(readings, c.signed())
			}
			c.skip(`]`)
			b.Measured[key] = readings
		}
		c.skip(`}`)
	}
	if c.has(`,"chosen":{`) {
		b.Chosen = map[string]string{}
		key := ""
		for more := true; c.ok && more; more = c.has(",") {
			c.skip(`"`)
			key = c.after(key, len(b.Chosen) == 0)
			c.skip(`:"`)
			b.Chosen[key] = c.plain()
		}
		c.skip(`}`)
	}
	if c.has(`,"confirmed":[`) {
		for more := true; c.ok && more; more = c.has(",") {
			c.skip(`"`)
			b.Confirmed = append(b.Confirmed, c.plain())
		}
		c.skip(`]`)
	}
	if c.has(`,"remark":"`) {
		b.Remark = c.given()
	}
	return b, c.ok && c.rest == "}"
}

// canonicalRemark reads a remark as [NewEntry] spells it, with plain texts and without
// photos. ok is false for every other spelling.
func canonicalRemark(body []byte) (b Remark, ok bool) {
	c := cursor{string(body), true}
	c.skip("{")
	if c.has(`"step":"`) {
		b.Step = c.given()
		c.skip(",")
	}
	if c.has(`"mount":"`) {
		b.Mount = c.given()
		c.skip(",")
	}
	c.skip(`"text":"`)
	b.Text = c.plain()
	return b, c.ok && c.rest == "}"
}

// canonicalBody reads a body that is spelled as [NewEntry] spells it, of the kinds that
// a log has most of. It is false for every other, and then nothing was read.
func canonicalBody(body []byte, into any) bool {
	switch b := into.(type) {
	case *Recording:
		if read, ok := canonicalRecording(body); ok {
			*b = read
			return true
		}
	case *Remark:
		if read, ok := canonicalRemark(body); ok {
			*b = read
			return true
		}
	}
	return false
}

// compact tells whether a valid JSON text in UTF-8 has no space between its values and
// no character in its strings for which encoding/json would put an escape.
func compact(text []byte) bool {
	quoted := false
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case escaped(text, i):
			return false
		case b == '"':
			quoted = !quoted
		case b == '\\':
			i++ // which stands in a string, as what it escapes does
		case b == ' ' && !quoted:
			return false
		}
	}
	return true
}

// escaped tells whether encoding/json would put an escape for a character that stands at
// a place of a text in UTF-8, a quote and a backslash left aside.
func escaped[T string | []byte](text T, i int) bool {
	switch b := text[i]; {
	case b < ' ' || b == '<' || b == '>' || b == '&':
		return true
	case b == 0xE2: // U+2028 and U+2029
		return i+2 < len(text) && text[i+1] == 0x80 && text[i+2]&^1 == 0xA8
	}
	return false
}

// AppendText appends a JSON string as encoding/json writes it.
func AppendText(b []byte, text string) []byte {
	if !utf8.ValidString(text) {
		return appendPlainly(b, text)
	}
	start, from := len(b), 0
	b = append(b, '"')
	for i := range len(text) {
		switch {
		case escaped(text, i):
			return appendPlainly(b[:start], text)
		case text[i] == '"' || text[i] == '\\':
			b = append(append(b, text[from:i]...), '\\')
			from = i
		}
	}
	return append(append(b, text[from:]...), '"')
}

// appendPlainly has encoding/json write a string.
func appendPlainly(b []byte, text string) []byte {
	quoted, _ := json.Marshal(text) // a string can always be written
	return append(b, quoted...)
}

// canonicalRecord reads a record as its MarshalJSON spells it.
func canonicalRecord(data []byte) (r recordJSON, ok bool) {
	c := cursor{string(data), utf8.Valid(data)} // encoding/json puts another character for what is not UTF-8
	c.skip(`{"position":`)
	r.Position = c.number()
	c.skip(`,"received":"`)
	r.Received = c.plain()
	c.skip(`,"accepted":`)
	if r.Accepted = c.has("true"); !r.Accepted {
		c.skip("false")
	}
	if c.has(`,"reason":"`) {
		r.Reason = c.plain()
	}
	if c.has(`,"outcome":"`) {
		r.Outcome = c.plain()
	}
	if c.has(`,"barred":"`) {
		r.Barred = c.plain()
	}
	if c.has(`,"edition":`) {
		r.Edition = int(c.number())
	}
	c.skip(`,"entry":`)
	quoted, closed := strings.CutSuffix(c.rest, "}")
	if !c.ok || !closed || !strings.HasPrefix(quoted, `"`) {
		return recordJSON{}, false
	}
	// What is kept of it must not keep the whole text in memory.
	r.Received, r.Reason, r.Outcome, r.Barred = strings.Clone(r.Received), strings.Clone(r.Reason), outcomeNamed(r.Outcome), strings.Clone(r.Barred)
	var plain bool
	if r.Entry, plain = unquote(quoted); plain {
		return r, true
	}
	return r, json.Unmarshal([]byte(quoted), &r.Entry) == nil
}

// canonicalSettlement reads a settlement as [NewEntry] spells it. ok is false for every
// other spelling, but it may be true for one that another program wrote, and then gives
// what that says.
func canonicalSettlement(body []byte) (b Settlement, ok bool) {
	c := cursor{string(body), utf8.Valid(body)} // encoding/json puts another character for what is not UTF-8
	c.skip(`{"revision":`)
	b.Revision = int(c.number())
	c.skip(`,"reason":`)
	b.Reason = c.quoted()
	c.skip(`,"sha256":"`)
	b.SHA256 = c.plain()
	c.skip(`,"plan":`)
	b.Plan = c.quoted()
	if c.has(`,"edits":`) {
		b.Edits = int(c.number())
	}
	return b, c.ok && c.rest == "}"
}

// quoted reads a string with the escapes that [unquote] knows.
func (c *cursor) quoted() (text string) {
	for end := 1; c.ok && end < len(c.rest); end++ {
		switch c.rest[end] {
		case '\\':
			end++
		case '"':
			text, c.ok = unquote(c.rest[:end+1])
			c.rest = c.rest[end+1:]
			return text
		}
	}
	c.ok = false
	return ""
}

// unquote reads a JSON string in UTF-8 whose only escapes are those of quotes, backslashes
// and line breaks.
// ok is false for every other, and for one that is none.
func unquote(quoted string) (text string, ok bool) {
	if len(quoted) < 2 || quoted[0] != '"' || quoted[len(quoted)-1] != '"' {
		return "", false
	}
	rest := quoted[1 : len(quoted)-1]
	var b strings.Builder
	b.Grow(len(rest))
	for {
		at := strings.IndexByte(rest, '\\')
		piece := rest
		if at >= 0 {
			piece = rest[:at]
		}
		for i := range len(piece) {
			if piece[i] < ' ' || piece[i] == '"' {
				return "", false
			}
		}
		b.WriteString(piece)
		if at < 0 {
			return b.String(), true
		}
		if at+1 == len(rest) {
			return "", false
		}
		switch c := rest[at+1]; c {
		case '"', '\\':
			b.WriteByte(c)
		case 'n':
			b.WriteByte('\n')
		default:
			return "", false
		}
		rest = rest[at+2:]
	}
}

// outcomeNamed is the same outcome without memory of its own, if it is one that is known.
func outcomeNamed(text string) string {
	for _, known := range []string{"", within, outside, unsure} {
		if text == known {
			return known
		}
	}
	return strings.Clone(text)
}
