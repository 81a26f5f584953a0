package table

import (
	"reflect"
	"strings"
	"unicode/utf8"
)

// write writes a list of structs under its columns' keys, as RFC 4180 has it: commas, CR LF at the end of each row, and
// quotes around what needs them. A byte order mark goes before it where a letter beyond ASCII occurs, because there
// spreadsheets take a file without one for another encoding.
func write(columns []column, list reflect.Value) ([]byte, error) {
	var b strings.Builder
	for i, c := range columns {
		separate(&b, i)
		b.WriteString(c.key)
	}
	b.WriteString("\r\n")
	for k := range list.Len() {
		for i, c := range columns {
			text, err := c.text(list.Index(k).Field(c.field))
			if err != nil {
				return nil, err
			}
			separate(&b, i)
			b.WriteString(quote(text))
		}
		b.WriteString("\r\n")
	}
	text := b.String()
	if strings.IndexFunc(text, func(r rune) bool { return r >= utf8.RuneSelf }) >= 0 {
		text = "\ufeff" + text
	}
	return []byte(text), nil
}

func separate(b *strings.Builder, i int) {
	if i > 0 {
		b.WriteByte(',')
	}
}

// quote puts a cell into quotes where it has something that some reader takes for an end, or drops at one.
func quote(text string) string {
	if !strings.ContainsAny(text, "\"\r\n"+delimiters) && strings.TrimSpace(text) == text {
		return text
	}
	return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
}
