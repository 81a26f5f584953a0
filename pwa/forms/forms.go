// Package forms is what filled forms are and become, for all pages alike.
//
// It decides nothing and knows no page: a form is what a browser sends, and what
// becomes of it is an entry or a complaint beside a field.
package forms

import (
	"fmt"
	"strings"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

// Form is what a person typed: field name to values, as a browser sends them.
type Form = map[string][]string

// A Submission is what became of a filled form: the kind and body of an entry, or,
// by field name, what is missing or cannot be read.
type Submission struct {
	Kind     checklist.Kind
	Body     any
	Problems map[string]string
	// Next is the path to show once the entry is saved, "" for the same page. Of an
	// entry that opens a job it is what follows the job's own path.
	Next string
}

// Wrong is a submission that makes no entry, and says so at a field.
func Wrong(field, says string) Submission {
	return Submission{Problems: map[string]string{field: says}}
}

// Nothing is what becomes of a form where nothing is recorded.
var Nothing = Wrong("form", "This page does not record anything.")

// Value is what stands in a field, without space at its ends.
func Value(f Form, name string) string {
	if vs := f[name]; len(vs) > 0 {
		return strings.TrimSpace(vs[0])
	}
	return ""
}

// Problem is where a message about a field goes.
func Problem(name string) Node {
	return El("p", Attr("class", "problem"), Attr("id", "p-"+name), Attr("role", "alert"))
}

// Hidden is a field that nobody fills in.
func Hidden(name, value string) Node {
	return El("input", Attr("type", "hidden"), Attr("name", name), Attr("value", value))
}

// Millimetres asks whether a number that is far too large for metres was read in millimetres.
func Millimetres(mm int) string { return fmt.Sprintf("If you read millimetres, write %d mm", mm) }
