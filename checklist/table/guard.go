package table

import "strings"

// A text that a spreadsheet would take for a formula must not become one when somebody opens the file: it gets an
// apostrophe before it (OWASP ASVS 5.0, 1.2.10), and reading takes that one away. So that reading can tell it from an
// apostrophe of the text's own, a text that already looks guarded is guarded once more.

// guard makes a text safe to open in a spreadsheet.
func guard(text string) string {
	if formula(text) {
		return "'" + text
	}
	return text
}

// unguard is the text that guard was given; a text that guard did not change and would not is itself.
func unguard(text string) string {
	if rest, ok := strings.CutPrefix(text, "'"); ok && formula(rest) {
		return rest
	}
	return text
}

// formula tells whether the first character, past apostrophes and what a spreadsheet may trim, is one that begins a
// formula: the six of OWASP ASVS 5.0, 1.2.10, a carriage return, and the full-width forms (memory: some read them alike).
func formula(text string) bool {
	text = strings.TrimLeft(text, "' \n")
	return strings.IndexAny(text, "=+-@\t\r\x00＝＋－＠") == 0
}
