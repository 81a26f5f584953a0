// Command hangtrue serves the pages and keeps the logs (serve), judges a plan and
// what was measured (check), checks a kept record (verify), and takes plans, tables
// and records out and in (export, import).
//
// Results go to stdout, messages to stderr. Exit codes: 0 all well; 1 something is
// outside, unsure or not what was sealed; 2 the command could not do its work.
package main
