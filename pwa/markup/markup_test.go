package markup_test

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	. "hangtrue/pwa/markup"
)

func TestString(t *testing.T) {
	for _, row := range []struct {
		name string
		node Node
		want string
	}{
		{"nothing", nil, ""},
		{"text is escaped", Text(`a<b & "c"`), `a&lt;b &amp; "c"`},
		{"a value is escaped", El("a", Attr("href", `"><script>`)), `<a href="&#34;&gt;&lt;script&gt;"></a>`},
		{"attributes stand anywhere", El("p", Text("x"), Attr("id", "y")), `<p id="y">x</p>`},
		{"a flag that is off is not written", El("input", Flag("required", false)), `<input>`},
		{"a flag that is on", El("input", Flag("required", true)), `<input required>`},
		{"a void element has no end", El("br"), `<br>`},
		{"a group spreads its members", El("p", Group(Attr("id", "a"), Text("b"))), `<p id="a">b</p>`},
		{"a condition that fails leaves nothing", El("p", If(false, Text("x"))), `<p></p>`},
		{"one node of every item", El("ul", Each([]string{"a", "b"}, func(s string) Node { return El("li", Text(s)) })), `<ul><li>a</li><li>b</li></ul>`},
		{"nested elements close in order", El("a", El("b", El("i", Int(3)))), `<a><b><i>3</i></b></a>`},
	} {
		t.Run(row.name, func(t *testing.T) { assert.Equal(t, row.want, String(row.node)) })
	}
}

// Whatever text goes in comes out of an independent parser as the same text and
// as nothing else. The parser is encoding/xml; its own line-ending and character
// rules are left out of the drawn texts.
func TestStringForeignText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.StringMatching(`[ -~äß″½]{0,40}`).Draw(t, "text")
		d := xml.NewDecoder(strings.NewReader(String(El("p", Attr("title", in), Text(in)))))
		start, err := d.Token()
		require.NoError(t, err)
		require.Equal(t, in, start.(xml.StartElement).Attr[0].Value)
		var got strings.Builder
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			require.NoError(t, err)
			if c, ok := token.(xml.CharData); ok {
				got.Write(c)
			} else {
				require.IsType(t, xml.EndElement{}, token)
			}
		}
		require.Equal(t, in, got.String())
	})
}
