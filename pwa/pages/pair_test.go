package pages_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/markup"
	"hangtrue/pwa/pages"
)

// gate is a source that knows who may come in.
type gate struct {
	*site
	guests pages.Guests
}

func (g gate) Guests() (pages.Guests, bool) { return g.guests, true }

// TestRender_Guests: the pages about who may come in are as sound as all others, with
// names that try to be markup, and say how everything ended.
func TestRender_Guests(t *testing.T) {
	at := time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)
	const self, away, gone, link, dead = "00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002", "00000000-0000-4000-8000-000000000003",
		"00000000-0000-4000-8000-000000000004", "00000000-0000-4000-8000-000000000005"
	g := gate{newSite(t, "Attic <b>lounge</b>", demoPlan(t)), pages.Guests{
		Devices: []pages.Guest{
			{ID: self, Who: "The lead", Role: checklist.Lead, Paired: at, Seen: at, Self: true},
			{ID: away, Who: `<img src=x onerror=alert(1)>`, Role: checklist.Installer, Paired: at, Seen: at},
			{ID: gone, Who: "Installer 2", Role: checklist.Installer, Paired: at, Seen: at, Revoked: at.Add(time.Hour)},
			{ID: dead, Who: "Reader", Role: checklist.Viewer, Job: "Attic", Paired: at, Seen: at, Ended: true},
		},
		Links: []pages.GuestLink{{ID: link, Job: "Attic", Made: at, Until: at.AddDate(0, 0, 90)}},
	}}
	for _, path := range []string{pages.PairPath, pages.ViewPath, pages.UnpairPath, pages.DevicesPath} {
		d := pages.Render(path, g)
		assert.Equal(t, 200, d.Status)
		soundPage(t, path, read(t, d.Fragment()))
	}
	revokes := map[string]bool{}
	html := pages.Render(pages.DevicesPath, g).Fragment()
	for _, e := range read(t, html) {
		if e.name == "button" && e.attrs["name"] == "id" {
			revokes[e.attrs["value"]] = true
		}
	}
	assert.Equal(t, map[string]bool{away: true, link: true}, revokes, "what stands can be ended; a device leaves by another door")
	assert.NotContains(t, html, "<img src=x")
	assert.Contains(t, html, "Revoked 2030-01-31 10:15 UTC.")
	assert.Contains(t, html, "Reader</strong>, a viewer, reads Attic only")

	// A phone does not know who is paired, and says so.
	assert.Contains(t, pages.Render(pages.DevicesPath, g.site).Fragment(), "The server alone knows")
	for status, says := range map[int]string{401: "This device is not paired", 403: "This takes a lead"} {
		d := pages.Refused(status)
		require.Equal(t, status, d.Status)
		assert.Contains(t, d.Fragment(), says)
	}
	for path, open := range map[string]bool{"/pair": true, "/view": true, "/unpair": true, "/you": true, pages.Shell: true, "/": false, "/devices": false, "/jobs/x": false, "/pair/": false, "": false} {
		assert.Equal(t, open, pages.Open(path), path)
	}
	picture := markup.El("svg")
	assert.Contains(t, pages.Opened(picture, "https://attic.local:8470", "ABCD-EFGH", checklist.Installer), "https://attic.local:8470/pair on it")
	assert.Contains(t, pages.Linked(picture, "https://attic.local:8470/view#x", "<b>"), "&lt;b&gt;")
}
