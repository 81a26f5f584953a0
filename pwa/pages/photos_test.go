package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

func photo(n, width, height int) checklist.Photo {
	return checklist.Photo{SHA256: fmt.Sprintf("%064x", n), Bytes: 412_345, Type: checklist.PhotoType, Width: width, Height: height}
}

// an album is a site with photos in several places.
type album struct {
	*site
	place func(checklist.Photo) pages.PhotoPlace
	taken []pages.Taken
}

func (a *album) Job(id string) (*pages.Job, bool) {
	job, ok := a.site.Job(id)
	if ok {
		job.Photo, job.Taken = a.place, a.taken
	}
	return job, ok
}

const (
	isolatePage = "/jobs/" + jobID + "/steps/isolate"
	wirePage    = "/jobs/" + jobID + "/mounts/M+090/wire"
)

// newAlbum is a job with photos at a step that is done, at a remark about it, and at an
// entry that was refused.
func newAlbum(t *testing.T) *album {
	s := newSite(t, "Attic lounge", demoPlan(t))
	isolate := s.good("isolate", "")
	isolate.Photos = []checklist.Photo{photo(1, 1600, 1200), photo(2, 900, 1600)}
	s.accepted(checklist.StepRecorded, isolate)
	s.accepted(checklist.RemarkWritten, checklist.Remark{Step: "isolate", Photos: []checklist.Photo{photo(3, 100, 80)}})
	held := s.good("wire", "M+090")
	held.Photos = []checklist.Photo{photo(4, 1600, 1200)}
	require.False(t, s.send(checklist.StepRecorded, held).Accepted)
	return &album{site: s, place: func(p checklist.Photo) pages.PhotoPlace {
		return map[string]pages.PhotoPlace{photo(1, 0, 0).SHA256: pages.PhotoHere, photo(2, 0, 0).SHA256: pages.PhotoWaiting, photo(3, 0, 0).SHA256: pages.PhotoSmall}[p.SHA256]
	}}
}

// TestRender_Photos: photos stand at the step that they were taken at, at its remarks, in
// the record, and each on a page of its own; every page is sound, and says where a photo is.
func TestRender_Photos(t *testing.T) {
	a := newAlbum(t)
	a.taken = []pages.Taken{{Form: "remark", Photo: photo(9, 640, 480)}}
	for _, device := range []pages.Device{a.device, {}} {
		a.device = device
		phone := device.ID != ""
		for _, path := range []string{isolatePage, wirePage, "/jobs/" + jobID, "/jobs/" + jobID + "/record", "/jobs/" + jobID + "/photos/" + photo(1, 0, 0).SHA256,
			"/jobs/" + jobID + "/photos/" + photo(2, 0, 0).SHA256, "/jobs/" + jobID + "/photos/" + photo(3, 0, 0).SHA256, "/jobs/" + jobID + "/photos/" + photo(4, 0, 0).SHA256} {
			d := pages.Render(path, a)
			require.Equal(t, 200, d.Status, path)
			all := read(t, d.Fragment())
			for _, href := range soundPage(t, path, all) {
				assert.Equal(t, 200, pages.Render(strings.TrimSuffix(href, ".jpg"), a).Status, "%s leads to %s", path, href)
			}
			for _, e := range all {
				if e.name != "img" {
					continue
				}
				assert.NotEmpty(t, e.attrs["alt"], path)
				assert.NotEmpty(t, e.attrs["width"], path)
				_, hasSource := e.attrs["src"]
				assert.Equal(t, !phone, hasSource, "on a phone the script puts it in: %s", path)
			}
		}
	}
	a.device = pages.Device{ID: deviceID, Who: "lead", Role: checklist.Lead, Known: true}
	step := pages.Render(isolatePage, a).Fragment()
	assert.Contains(t, step, `width="320" height="240" alt="Photo 1 of 2: Isolate the amplifiers, lead, 2031-05-04 08:03 UTC"`)
	assert.Contains(t, step, `width="180" height="320"`, "upright")
	assert.Contains(t, step, `width="100" height="80"`, "never larger than it is")
	assert.Equal(t, 1, strings.Count(step, "not sent yet"))
	assert.Contains(t, step, `data-taken="`+photo(9, 0, 0).SHA256+`"`)
	assert.Contains(t, step, "1 photo goes with what you save.")
	record := pages.Render("/jobs/"+jobID+"/record", a).Fragment()
	for n := 1; n <= 4; n++ {
		assert.Contains(t, record, fmt.Sprintf(`data-photo="%064x"`, n), "refused entries are kept, and their photos shown")
	}
	assert.Contains(t, record, "1 photo is on this phone only, not sent yet.")
	whole := pages.Render("/jobs/"+jobID+"/photos/"+photo(2, 0, 0).SHA256, a).Fragment()
	assert.Contains(t, whole, "It is on this phone only.")
	assert.Contains(t, whole, "900 × 1600 pixels, 413 kB")
	assert.Contains(t, whole, `href="/jobs/`+jobID+`/steps/isolate"`)

	a.device = pages.Device{}
	record = pages.Render("/jobs/"+jobID+"/record", a).Fragment()
	assert.Contains(t, record, "1 photo is on the way: still on the phone that took them.")
	assert.Contains(t, record, "A photo is on its way: it is still on the phone that took it.")
	assert.NotContains(t, pages.Render(isolatePage, a).Fragment(), `type="file"`, "the server's own page takes none")
	assert.Equal(t, 404, pages.Render("/jobs/"+jobID+"/photos/"+photo(5, 0, 0).SHA256, a).Status)
}

// TestSubmit_Photos: what was taken for a form goes with it, and with no other.
func TestSubmit_Photos(t *testing.T) {
	a := newAlbum(t)
	a.taken = []pages.Taken{{Form: "record", Photo: photo(8, 1, 1)}, {Form: "remark", Photo: photo(9, 1, 1)}, {Form: "record", Photo: photo(10, 1, 1)}}
	made := pages.Submit(isolatePage, pages.Form{"act": {"record"}, "how": {"unplugged"}}, a)
	require.Empty(t, made.Problems)
	assert.Equal(t, []checklist.Photo{photo(8, 1, 1), photo(10, 1, 1)}, made.Body.(checklist.Recording).Photos)
	made = pages.Submit(isolatePage, pages.Form{"act": {"remark"}, "note": {""}}, a)
	require.Empty(t, made.Problems)
	assert.Equal(t, checklist.RemarkWritten, made.Kind)
	assert.Equal(t, checklist.Remark{Step: "isolate", Photos: []checklist.Photo{photo(9, 1, 1)}}, made.Body)
	a.taken = nil
	assert.NotEmpty(t, pages.Submit(isolatePage, pages.Form{"act": {"remark"}, "note": {" "}}, a).Problems["note"])
	made = pages.Submit(isolatePage, pages.Form{"act": {"remark"}, "note": {"The plug is taped over."}}, a)
	assert.Equal(t, checklist.Remark{Step: "isolate", Text: "The plug is taped over."}, made.Body)
}
