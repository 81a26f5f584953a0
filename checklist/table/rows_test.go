package table_test

import (
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/table"
)

// The examples of RFC 4180 section 2, rules 1 to 7, in their order.
func TestRows_RFC4180(t *testing.T) {
	for _, row := range []struct {
		text string
		want [][]string
	}{
		{"aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"aaa,bbb,ccc\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
			[][]string{{"field_name", "field_name", "field_name"}, {"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"aaa,bbb,ccc", [][]string{{"aaa", "bbb", "ccc"}}},
		{"\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{`"aaa","b""bb","ccc"`, [][]string{{"aaa", `b"bb`, "ccc"}}},
	} {
		got, _, ok := table.Rows(row.text, ',')
		assert.True(t, ok, row.text)
		assert.Equal(t, row.want, got, row.text)
	}
}

func TestRows_BeyondTheRFC(t *testing.T) {
	for _, row := range []struct {
		text    string
		comma   byte
		want    [][]string
		numbers []int
	}{
		{"a,b\n\n\nc,d\n,\n \ne", ',', [][]string{{"a", "b"}, {"c", "d"}, {"e"}}, []int{1, 4, 7}}, // blank rows count
		{"\"a\nb\"\nc", ',', [][]string{{"a\nb"}, {"c"}}, []int{1, 2}},                            // a line break in a cell does not
		{"a\rb\rc", ',', [][]string{{"a"}, {"b"}, {"c"}}, []int{1, 2, 3}},
		{`49 3/8",4' 1 3/8"`, ',', [][]string{{`49 3/8"`, `4' 1 3/8"`}}, []int{1}},
		{`  "a" ,b`, ',', [][]string{{"a", "b"}}, []int{1}},
		{"a;b\tc,d", ';', [][]string{{"a", "b\tc,d"}}, []int{1}},
		{"a\t\"b\tc\"", '\t', [][]string{{"a", "b\tc"}}, []int{1}},
		{"a,", ',', [][]string{{"a", ""}}, []int{1}},
		{`""`, ',', nil, nil},
	} {
		got, numbers, ok := table.Rows(row.text, row.comma)
		assert.True(t, ok, row.text)
		assert.Equal(t, row.want, got, row.text)
		assert.Equal(t, row.numbers, numbers, row.text)
	}
	for _, text := range []string{`"a`, `"a"b`, `"a""`, `"a" "b"`, "x,\"a\"b\nc"} {
		_, _, ok := table.Rows(text, ',')
		assert.False(t, ok, text)
	}
}

// Whatever encoding/csv, an outside reader, takes for CSV is read to the same rows here.
func FuzzRows(f *testing.F) {
	f.Add("a,b\r\n\"c\n\"\"d\"\"\",e\n\n,\n", byte(0))
	f.Add("a;\"b;c\"\n", byte(1))
	f.Add("\"a\tb\"\tc\r\n\"\"", byte(2))
	f.Add(strings.Repeat("\t", 150)+"a", byte(2))
	f.Add("\xe2\t\x80\x81", byte(2)) // together, without what is between them, these would be a space
	f.Fuzz(func(t *testing.T, text string, which byte) {
		comma := ",;\t"[which%3]
		got, numbers, ok := table.Rows(text, comma)
		require.Len(t, numbers, len(got))
		require.True(t, slices.IsSorted(numbers))
		if strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r") {
			return // encoding/csv ends no row at a lone carriage return
		}
		r := csv.NewReader(strings.NewReader(text))
		r.Comma, r.FieldsPerRecord = rune(comma), -1
		want, err := r.ReadAll()
		if err != nil {
			return
		}
		require.True(t, ok, "%q", text)
		want = slices.DeleteFunc(want, func(row []string) bool {
			return !slices.ContainsFunc(row, func(cell string) bool { return strings.TrimSpace(cell) != "" })
		})
		require.Len(t, got, len(want), "%q", text)
		for i := range want {
			cut := min(len(want[i]), len(got[i])) // a row is cut where it is no row any more
			require.Equal(t, want[i][:cut], got[i][:cut], "%q", text)
			require.True(t, len(got[i]) == len(want[i]) || len(got[i]) > 100, "%q", text)
		}
	})
}
