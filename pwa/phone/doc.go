// Program phone runs in the browser, built for GOOS=js GOARCH=wasm: it hands one
// function of package engine to the scripts and waits.
//
// Called with the argument "fold" by the Go toolchain's runner for Node, the very
// same file reads records from its standard input, one JSON object a line, decides and folds
// them and writes the decisions and the state down. A test compares that with the
// native program's.
package main
