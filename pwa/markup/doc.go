// Package markup builds HTML and SVG out of Go values.
//
// Every text and every attribute value is escaped when it is written, so no
// caller can let foreign text become markup. Tag and attribute names come from
// the program alone and are written as they are. The same tree renders on the
// server and on the phone; it costs a tenth of the size a template engine would
// add to the WebAssembly file.
//
// It knows no page and no domain.
package markup
