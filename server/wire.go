package server

import (
	"bytes"
	"strconv"
	"unicode/utf8"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
)

// Pushes are most of what a server reads and writes, all spelled alike. What is spelled
// so is read and written here in one pass, as encoding/json would; the rest goes the
// general way.

// readPush reads the entries of a push. They are the caller's own.
func readPush(c *fiber.Ctx) ([][]byte, error) {
	if entries, ok := plainPush(c.Request().Body()); ok {
		return entries, nil
	}
	var push struct {
		Entries []string `json:"entries"`
	}
	if err := readJSON(c, &push); err != nil {
		return nil, err
	}
	entries := make([][]byte, len(push.Entries))
	for i, text := range push.Entries {
		entries[i] = []byte(text)
	}
	return entries, nil
}

// plainPush reads a push as phones write it. ok is false for every other spelling.
func plainPush(body []byte) (entries [][]byte, ok bool) {
	rest, ok := bytes.CutPrefix(body, []byte(`{"entries":[`))
	if !ok || !utf8.Valid(body) { // encoding/json puts another character for what is not UTF-8
		return nil, false
	}
	for len(entries) <= maxPush { // one too many is told
		var entry []byte
		if entry, rest, ok = plainText(rest); !ok {
			return nil, false
		}
		entries = append(entries, entry)
		if string(rest) == "]}" {
			return entries, true
		}
		if rest, ok = bytes.CutPrefix(rest, []byte(",")); !ok {
			return nil, false
		}
	}
	return nil, false
}

// plainText reads the JSON string that stands next, whose only escapes are those of
// quotes and backslashes. ok is false for every other.
func plainText(data []byte) (text, rest []byte, ok bool) {
	data, ok = bytes.CutPrefix(data, []byte(`"`))
	for from, i := 0, 0; ok && i < len(data); i++ {
		switch b := data[i]; {
		case b == '"':
			return append(text, data[from:i]...), data[i+1:], true
		case b < ' ':
			return nil, nil, false
		case b == '\\':
			if i++; i == len(data) || data[i] != '"' && data[i] != '\\' {
				return nil, nil, false
			}
			if text == nil {
				text = make([]byte, 0, len(data))
			}
			text = append(text, data[from:i-1]...)
			from = i
		}
	}
	return nil, nil, false
}

// appendAnswers writes what a push is answered.
func appendAnswers(b []byte, head int64, answers []Answer) []byte {
	b = append(b, `{"answers":[`...)
	for i, a := range answers {
		if i > 0 {
			b = append(b, ',')
		}
		b = a.appendJSON(b)
	}
	b = append(b, `],"head":`...)
	return append(strconv.AppendInt(b, head, 10), '}')
}

func (a Answer) appendJSON(b []byte) []byte {
	b = checklist.AppendText(append(b, `{"id":`...), a.ID)
	if a.Record != nil {
		b = a.Record.AppendJSON(append(b, `,"record":`...))
	}
	if a.Expected != 0 {
		b = strconv.AppendInt(append(b, `,"expected":`...), a.Expected, 10)
	}
	if a.Stray != "" {
		b = checklist.AppendText(append(b, `,"stray":`...), a.Stray)
	}
	if a.Missing {
		b = append(b, `,"missing":true`...)
	}
	return append(b, '}')
}
