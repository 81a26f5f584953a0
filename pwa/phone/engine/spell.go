package engine

import (
	"encoding/json"
	"strconv"
)

// spell writes an answer as JSON, empty members left out. encoding/json would first make
// itself a writer for every type that an answer can hold; at a launch that takes longer
// than the page. What few answers hold goes that way.
func (a *Answer) spell() ([]byte, error) {
	m := members{b: make([]byte, 0, len(a.HTML)+len(a.HTML)/8+512)}
	m.text("fault", a.Fault)
	m.text("need", a.Need)
	m.other("write", a.Write, len(a.Write) > 0)
	m.number("status", a.Status)
	m.text("path", a.Path)
	m.text("title", a.Title)
	m.text("html", a.HTML)
	m.text("mark", a.Mark)
	m.flag("empty", a.Empty)
	m.other("parts", a.Parts, len(a.Parts) > 0)
	m.other("problems", a.Problems, len(a.Problems) > 0)
	m.text("id", a.ID)
	m.text("job", a.Job)
	m.flag("whole", a.Whole)
	m.text("go", a.Go)
	m.other("request", a.Request, a.Request != nil)
	m.other("photo", a.Photo, a.Photo != nil)
	m.other("data", a.Data, len(a.Data) > 0)
	m.other("changed", a.Changed, len(a.Changed) > 0)
	m.text("forget", a.Forget)
	m.flag("failed", a.Failed)
	m.flag("update", a.Update)
	if a.Say != nil {
		m.key("say")
		m.b = append(quote(append(m.b, `{"html":`...), a.Say.HTML), `,"tone":`...)
		m.b = quote(m.b, a.Say.Tone)
		if a.Say.Stay {
			m.b = append(m.b, `,"stay":true`...)
		}
		m.b = append(m.b, '}')
	}
	m.number("edition", a.Edition)
	m.text("program", a.Program)
	if len(m.b) == 0 {
		m.b = append(m.b, '{')
	}
	return append(m.b, '}'), m.err
}

// members are those of a JSON object that is being written.
type members struct {
	b   []byte
	err error
}

func (m *members) key(name string) {
	if len(m.b) == 0 {
		m.b = append(m.b, '{')
	} else {
		m.b = append(m.b, ',')
	}
	m.b = append(append(append(m.b, '"'), name...), `":`...)
}

func (m *members) text(name, value string) {
	if value != "" {
		m.key(name)
		m.b = quote(m.b, value)
	}
}

func (m *members) number(name string, value int) {
	if value != 0 {
		m.key(name)
		m.b = strconv.AppendInt(m.b, int64(value), 10)
	}
}

func (m *members) flag(name string, value bool) {
	if value {
		m.key(name)
		m.b = append(m.b, "true"...)
	}
}

func (m *members) other(name string, value any, given bool) {
	if given {
		data, err := json.Marshal(value)
		if err != nil {
			m.err = err
		}
		m.key(name)
		m.b = append(m.b, data...)
	}
}

// quote appends a JSON string. What stands in none is escaped, and nothing else: this is
// for a reader of JSON, not for a page.
func quote(b []byte, text string) []byte {
	const digits = "0123456789abcdef"
	b = append(b, '"')
	from := 0
	for i := range len(text) {
		c := text[i]
		if c >= ' ' && c != '"' && c != '\\' {
			continue
		}
		b = append(b, text[from:i]...)
		from = i + 1
		switch c {
		case '"', '\\':
			b = append(b, '\\', c)
		case '\n':
			b = append(b, `\n`...)
		default:
			b = append(b, '\\', 'u', '0', '0', digits[c>>4], digits[c&15])
		}
	}
	return append(append(b, text[from:]...), '"')
}
