// Command hangtrue serves the pages and keeps the logs (serve), judges a plan and
// what was measured (check), and checks a kept record (verify).
//
// Results go to stdout, messages to stderr. Exit codes: 0 all well; 1 something is
// outside, unsure or not what was sealed; 2 the command could not do its work.
package main
