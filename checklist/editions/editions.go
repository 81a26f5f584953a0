// Package editions keeps every edition of the steps that there ever was, so that a log
// is held to the hold points of its day.
//
// checklist/steps.json is the newest; N.json here is edition N as it was when the next
// came. A record says by which it was decided ([checklist.Decision]); those of before
// editions were written say nothing, and [Deciders] tells which it can have been.
//
// Only what verifies imports this: a phone decides by the newest alone.
package editions

import (
	"embed"
	"fmt"
	"sync"

	"hangtrue/checklist"
)

// Unwritten is the last edition whose program did not write down which it was.
const Unwritten = 2

// came are kinds of entry that came with an edition: programs of one before refused them.
var came = map[checklist.Kind]int{checklist.PartNoted: 2, checklist.PartStowed: 2, checklist.PartTaken: 2}

//go:embed *.json
var former embed.FS

// A List is the editions of one list of steps, the first at index 0.
type List []*checklist.Template

// Loudspeakers are the editions of [checklist.Loudspeakers], which is the last of them.
var Loudspeakers = sync.OnceValue(func() List {
	var l List
	for n := 1; n < checklist.Loudspeakers.Version; n++ {
		document, err := former.ReadFile(fmt.Sprintf("%d.json", n))
		if err != nil {
			panic(err) // it is part of the program
		}
		t, err := checklist.ParseTemplate(document)
		if err != nil {
			panic(err)
		}
		l = append(l, t)
	}
	return append(l, checklist.Loudspeakers)
})

// Newest is the number of the last edition.
func (l List) Newest() int { return len(l) }

// Edition is the one of a number from 1 to Newest.
func (l List) Edition(n int) *checklist.Template { return l[n-1] }

// Deciders are the editions that can have decided a record, the newest first: the one
// that it names, or each from before editions were written that knew the kinds of entry
// accepted up to there. least is what [Since] came to for the records before.
func Deciders(r checklist.Record, least int) []int {
	if r.Edition != 0 {
		return []int{r.Edition}
	}
	var numbers []int
	for n := Unwritten; n >= max(1, least); n-- {
		numbers = append(numbers, n)
	}
	return numbers
}

// Since is the first edition whose program can have made this decision.
func Since(r checklist.Record) int {
	if !r.Accepted {
		return 1
	}
	return max(1, came[r.Entry.Kind])
}
