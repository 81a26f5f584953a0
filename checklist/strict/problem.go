package strict

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

const (
	// MaxProblems is how many problems are listed. A document with more is not a plan with slips but something else,
	// and the answer must stay readable and bounded.
	MaxProblems = 200

	// maxRead is how much of a wrong value is repeated to the reader, in characters.
	maxRead = 60
)

// A Problem is one thing wrong with a document: where (RFC 6901 pointer, "" for the whole), what was read, and what is
// wanted there. All three are for people; Read is shortened.
type Problem struct {
	Pointer string `json:"pointer"`
	Read    string `json:"read"`
	Want    string `json:"want"`

	at int // byte offset in the document, to sort by
}

// Error says the problem in one line.
func (p Problem) Error() string {
	where := p.Pointer
	if where == "" {
		where = "document"
	}
	return where + ": read " + p.Read + ", want " + p.Want
}

// Problems are all problems of one document, in document order. It is an error only through [Problems.Err]: an empty
// list in an error interface would not be nil.
type Problems []Problem

// Error gives one problem a line.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Err is nil when there are no problems, and the problems otherwise.
func (ps Problems) Err() error {
	if len(ps) == 0 {
		return nil
	}
	return ps
}

// Add appends a problem found by the caller. Beyond [MaxProblems] it only says that there are more.
func (ps *Problems) Add(pointer, read, want string) { ps.add(0, pointer, read, want) }

func (ps *Problems) add(at int, pointer, read, want string) {
	switch n := len(*ps); {
	case n < MaxProblems:
		*ps = append(*ps, Problem{Pointer: pointer, Read: Shorten(read), Want: want, at: at})
	case n == MaxProblems:
		*ps = append(*ps, Problem{Pointer: "", Read: "more than " + strconv.Itoa(MaxProblems) + " problems", Want: "these put right first", at: MaxSize + 1})
	}
}

// Has tells whether a problem stands at pointer, above it or below it: such a value was not read as written.
func (ps Problems) Has(pointer string) bool {
	for _, p := range ps {
		if within(p.Pointer, pointer) || within(pointer, p.Pointer) {
			return true
		}
	}
	return false
}

// within tells whether inner is outer or lies below it.
func within(inner, outer string) bool {
	return inner == outer || strings.HasPrefix(inner, outer) && inner[len(outer)] == '/'
}

// Sort brings problems into the order of the document they are about. A pointer to something the document does not
// have sorts with what should hold it; problems of one place sort by pointer.
func (ps Problems) Sort(data []byte) {
	if len(ps) == 0 {
		return
	}
	root, _ := parse(data)
	for i := range ps {
		if ps[i].at == 0 && root != nil {
			ps[i].at = root.find(ps[i].Pointer).at
		}
	}
	slices.SortStableFunc(ps, func(a, b Problem) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.Pointer, b.Pointer)) })
}

// Quote shows a text that was read, shortened.
func Quote(s string) string { return strconv.Quote(Shorten(s)) }

// Shorten cuts a text to what a message may repeat.
func Shorten(s string) string {
	if utf8.RuneCountInString(s) <= maxRead {
		return s
	}
	return string([]rune(s)[:maxRead]) + "…"
}

// Pointer joins reference tokens (string or int) into an RFC 6901 pointer below base.
func Pointer(base string, tokens ...any) string {
	for _, t := range tokens {
		switch t := t.(type) {
		case int:
			base += "/" + strconv.Itoa(t)
		case string:
			base += "/" + escape.Replace(t)
		}
	}
	return base
}

var (
	escape   = strings.NewReplacer("~", "~0", "/", "~1") // RFC 6901 section 3
	unescape = strings.NewReplacer("~1", "/", "~0", "~")
)

// Nearest is the known key a wrong one was probably meant to be, or "".
func Nearest(key string, known []string) string {
	best, least := "", 2+len(key)/4
	if len(key) > 2*maxRead {
		return ""
	}
	for _, k := range known {
		if d := distance(key, k); d < least {
			best, least = k, d
		}
	}
	return best
}

// distance counts the single-character edits between two texts (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			d := diagonal
			if a[i] != b[j] {
				d++
			}
			diagonal = row[j+1]
			row[j+1] = min(d, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
