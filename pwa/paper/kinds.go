package paper

import (
	"errors"
	"fmt"
)

// ErrUnknown is returned, wrapped with the name, for a kind of paper that there is not.
var ErrUnknown = errors.New("paper: there is no such paper")

// A Kind of paper. Table tells that it comes as CSV too.
type Kind struct {
	Name  string // as files are named
	Table bool
}

// Kinds are all kinds, in the order of the work.
var Kinds = []Kind{
	{"shopping", true}, {"mark-out", true}, {"template", false}, {"cables", true}, {"labels", false}, {"steps", false},
}

// Document is a kind of paper for a size; only labels look at the grid. The errors are
// [ErrUnknown] and those of [Job.Labels].
func (j Job) Document(kind string, size Size, grid Grid) (Document, error) {
	switch kind {
	case "shopping":
		return j.Shopping(size), nil
	case "mark-out":
		return j.MarkOut(size), nil
	case "template":
		return j.Templates(size), nil
	case "cables":
		return j.Cables(size), nil
	case "labels":
		return j.Labels(size, grid)
	case "steps":
		return j.Steps(size), nil
	}
	return Document{}, fmt.Errorf("%w: %q", ErrUnknown, kind)
}

// Table is a kind of paper as CSV. The errors are [ErrUnknown], also for a kind that is no
// table, and why the plan gives none.
func (j Job) Table(kind string) ([]byte, error) {
	switch kind {
	case "shopping":
		return j.ShoppingCSV()
	case "mark-out":
		return j.MarkOutCSV(), nil
	case "cables":
		return j.CablesCSV()
	}
	return nil, fmt.Errorf("%w: %q as a table", ErrUnknown, kind)
}
