// Package pages renders what people see, on the server and on the phone alike.
//
// [Render] is a pure function of a path and a [Source]: the server's source reads
// its store, the phone's source its own copy, and both get the same markup. Forms
// are plain HTML; on the phone a small script hands what was typed to [Recording]
// and gets back an entry's body or the fields that are wrong.
//
// Imports go to checklist, compute and pwa/drawing, pwa/markup. No rule of the
// domain is decided here: a page shows what checklist says.
package pages
