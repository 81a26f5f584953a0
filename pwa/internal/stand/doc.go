// Package stand makes up jobs and plays the server for them, in memory, so that
// the pages and the phone's program can be tested and measured without the
// storeys above them. It answers as the interface between phone and server is
// described and keeps nothing.
package stand
