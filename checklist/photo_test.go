package checklist_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// photo is a sound photo, another one for each number.
func photo(n int) checklist.Photo {
	return checklist.Photo{SHA256: fmt.Sprintf("%064x", n), Bytes: 400_000, Type: checklist.PhotoType, Width: 1600, Height: 1200}
}

func photos(from, to int) (all []checklist.Photo) {
	for n := from; n < to; n++ {
		all = append(all, photo(n))
	}
	return all
}

// TestPhotos_OldEntries: an entry without photos has the bytes that it had before
// there were any. The texts were written by the edition before.
func TestPhotos_OldEntries(t *testing.T) {
	for _, row := range []struct {
		body any
		want string
	}{
		{checklist.Recording{Step: "mark", Mount: "M+030", Measured: map[string][]int64{"up_um": {1}}, Chosen: map[string]string{"tape": "T"}, Remark: "r"},
			`{"step":"mark","mount":"M+030","measured":{"up_um":[1]},"chosen":{"tape":"T"},"remark":"r"}`},
		{checklist.Remark{Step: "mark", Mount: "M+030", Text: "t"}, `{"step":"mark","mount":"M+030","text":"t"}`},
		{checklist.Remark{Text: "t"}, `{"text":"t"}`},
	} {
		e, err := checklist.NewEntry(checklist.Entry{ID: jobID, Job: jobID, Device: deviceA, Number: 1, Who: "w", Role: checklist.Lead, Clock: received, Kind: checklist.RemarkWritten}, row.body)
		require.NoError(t, err)
		assert.Equal(t, row.want, string(e.Body))
		assert.Empty(t, checklist.PhotosOf(e))
	}
}

// TestPhotos_Bytes: what a photo adds to an entry, which is hashed and sealed.
func TestPhotos_Bytes(t *testing.T) {
	s := newSite(t)
	e := s.entry(deviceA, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Photos: photos(1, 2)})
	assert.Equal(t, `{"text":"","photos":[{"sha256":"`+strings.Repeat("0", 63)+`1","bytes":400000,"type":"image/jpeg","width":1600,"height":1200}]}`, string(e.Body))
	assert.Equal(t, photos(1, 2), checklist.PhotosOf(e))
}

// TestDecide_Photos: photos go with a recorded step and with a remark, whose text may
// then be empty; each bound is held where it is passed and not before.
func TestDecide_Photos(t *testing.T) {
	s := newSite(t)
	p := examplePlan(t)
	s.open(p)
	recording := good(t, p, "isolate", "")
	recording.Photos = photos(0, checklist.MaxPhotos)
	kept := s.accept(checklist.Installer, checklist.StepRecorded, recording)
	assert.Equal(t, "within", kept.Outcome)
	assert.Equal(t, recording.Photos, s.state.Evidence(checklist.Key{Step: "isolate"}).Recording.Photos)
	s.accept(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Step: "isolate", Photos: photos(20, 21)})
	s.accept(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Text: "with words", Photos: photos(21, 22)})
	s.refuse(checklist.Installer, checklist.RemarkWritten, checklist.Remark{}, "text has 0 characters")
	s.refuse(checklist.Viewer, checklist.RemarkWritten, checklist.Remark{Photos: photos(22, 23)}, "Only an installer may do this")

	large := photo(30)
	large.Bytes, large.Width, large.Height = checklist.MaxPhotoBytes, checklist.MaxPhotoSide, 1
	s.accept(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Photos: []checklist.Photo{large}})
	for says, change := range map[string]func(p *checklist.Photo){
		"Photo 1: sha256 is \"\"":                        func(p *checklist.Photo) { p.SHA256 = "" },
		"wanted 64 digits and letters a to f":            func(p *checklist.Photo) { p.SHA256 = strings.Repeat("A", 64) },
		"sha256 is \"" + strings.Repeat("0", 57) + "…\"": func(p *checklist.Photo) { p.SHA256 = strings.Repeat("0", 65) },
		"sha256 is \"../../" + strings.Repeat("0", 51):   func(p *checklist.Photo) { p.SHA256 = "../../" + strings.Repeat("0", 58) },
		"bytes is 0, wanted 1 to 2097152":                func(p *checklist.Photo) { p.Bytes = 0 },
		"bytes is 2097153":                               func(p *checklist.Photo) { p.Bytes = checklist.MaxPhotoBytes + 1 },
		"type is \"image/svg+xml\", wanted image/jpeg":   func(p *checklist.Photo) { p.Type = "image/svg+xml" },
		"width is 0 pixels, wanted 1 to 2048":            func(p *checklist.Photo) { p.Width = 0 },
		"height is 2049 pixels":                          func(p *checklist.Photo) { p.Height = checklist.MaxPhotoSide + 1 },
		"height is -1 pixels":                            func(p *checklist.Photo) { p.Height = -1 },
	} {
		wrong := photo(40)
		change(&wrong)
		recording.Photos = []checklist.Photo{wrong}
		s.refuse(checklist.Installer, checklist.StepRecorded, recording, says)
		s.refuse(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Text: "x", Photos: recording.Photos}, says)
		assert.Empty(t, checklist.PhotosOf(s.records[len(s.records)-1].Entry), "nothing is taken for it either")
	}
	recording.Photos = photos(50, 51+checklist.MaxPhotos)
	s.refuse(checklist.Installer, checklist.StepRecorded, recording, "There are 13 photos, wanted 12 at most.")
	recording.Photos = []checklist.Photo{photo(60), photo(61), photo(60)}
	s.refuse(checklist.Installer, checklist.StepRecorded, recording, "Photo 3 is there twice.")
}

// TestDecide_PhotosCanonical: the list is written in one way only.
func TestDecide_PhotosCanonical(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	for _, body := range []string{
		`{"text":"x","photos":[]}`, `{"text":"x","photos":null}`, `{"photos":[],"text":"x"}`,
		`{"text":"x","photos":[{"bytes":1,"sha256":"` + strings.Repeat("0", 64) + `","type":"image/jpeg","width":1,"height":1}]}`,
		`{"text":"x","photos":[{"sha256":"` + strings.Repeat("0", 64) + `","bytes":1,"type":"image/jpeg","width":1,"height":1,"place":"home"}]}`,
	} {
		e := s.entry(deviceA, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Text: "x"})
		raw := strings.Replace(string(e.Bytes()), `{"text":"x"}`, body, 1)
		e, err := checklist.ParseEntry([]byte(raw))
		require.NoError(t, err)
		assert.False(t, s.push(e).Accepted, body)
	}
}

// TestState_Photos: what entries name is known in their order, refused ones too, and
// a copy of the state goes its own way.
func TestState_Photos(t *testing.T) {
	s := newSite(t)
	p := examplePlan(t)
	s.open(p)
	s.accept(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Step: "mark", Mount: "M+030", Photos: photos(1, 3)})
	held := good(t, p, "drill", p.Mounts[0].Channel)
	held.Photos = photos(3, 4)
	s.refuse(checklist.Installer, checklist.StepRecorded, held, "is held")
	before := s.state.Clone()
	s.accept(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Photos: photos(1, 2)})
	var got []string
	for _, n := range s.state.Photos {
		got = append(got, fmt.Sprintf("%s %d", n.SHA256[63:], n.Record.Position))
	}
	assert.Equal(t, []string{"1 3", "2 3", "3 4", "1 5"}, got)
	assert.Len(t, before.Photos, 3)
	named, ok := s.state.Photo(photo(3).SHA256)
	require.True(t, ok)
	assert.False(t, named.Record.Accepted)
	_, ok = s.state.Photo(photo(4).SHA256)
	assert.False(t, ok)
	var dump, other strings.Builder
	require.NoError(t, s.state.Dump(&dump))
	require.NoError(t, before.Dump(&other))
	assert.Equal(t, 4, strings.Count(dump.String(), `"photo":`))
	assert.Equal(t, 3, strings.Count(other.String(), `"photo":`))
}

// large is a photo of the most bytes: 512 of them are what a job may have, and 128 what
// one device may bring.
func large(n int) checklist.Photo { p := photo(n); p.Bytes = checklist.MaxPhotoBytes; return p }

// TestState_PhotoRoom: what a device that is no lead's names beyond its share takes no
// room from the others, and the entry stands; a job that is full refuses.
func TestState_PhotoRoom(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	name := func(device string, role checklist.Role, from, to int) checklist.Record {
		var some []checklist.Photo
		for n := from; n < to; n++ {
			some = append(some, large(n))
		}
		return s.push(s.entry(device, role, checklist.RemarkWritten, checklist.Remark{Photos: some}))
	}
	fill := func(device string, role checklist.Role, from, to int) {
		for ; from < to; from += 8 {
			require.True(t, name(device, role, from, from+8).Accepted)
			require.True(t, name(device, role, from, from+1).Accepted, "the same again counts once")
		}
	}
	room := func(n int) checklist.PhotoRoom { return s.state.PhotoRoom(large(n).SHA256) }
	fill(deviceB, checklist.Installer, 0, 128+800)
	assert.Equal(t, checklist.PhotoFits, room(127))
	assert.Equal(t, checklist.PhotoBeyondDevice, room(128))
	assert.Equal(t, checklist.PhotoBeyondDevice, room(927))

	other := "01900000-0000-7000-8000-0000000000c1"
	fill(other, checklist.Installer, 1000, 1128)
	assert.Equal(t, checklist.PhotoFits, room(1127), "another device has a share of its own")
	require.True(t, name(other, checklist.Installer, 300, 301).Accepted)
	assert.Equal(t, checklist.PhotoBeyondDevice, room(300))
	fill(deviceA, checklist.Lead, 300, 308)
	assert.Equal(t, checklist.PhotoFits, room(300), "a lead's entry names it as well")
	fill(deviceA, checklist.Lead, 2000, 2248)
	assert.Equal(t, checklist.PhotoFits, room(2247), "128 + 128 + 8 + 248 are all that a job may have")
	r := name(deviceA, checklist.Lead, 3000, 3001)
	assert.False(t, r.Accepted)
	assert.Contains(t, r.Reason, "as many photos as it may have")
	assert.Equal(t, checklist.PhotoBeyondJob, room(3000))
	assert.True(t, name(deviceA, checklist.Lead, 0, 8).Accepted, "nothing new")
	assert.Equal(t, checklist.PhotoBeyondJob, s.state.PhotoRoom(photo(9999).SHA256), "nobody names it")
}

// TestState_PhotoRoomBrute holds it to the rule said in another way: a naming counts if
// its photo does not yet, its device has room or is a lead's by an accepted entry, and
// the job has room; each by looking over all namings before.
func TestState_PhotoRoomBrute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := checklist.NewState(checklist.Loudspeakers, jobID)
		n := rapid.IntRange(0, 900).Draw(t, "namings")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		for range n {
			p := large(random.IntN(700))
			p.Bytes /= []int64{1, 1, 2}[random.IntN(3)]
			s.Photos = append(s.Photos, checklist.PhotoNamed{Photo: p, Record: checklist.Record{
				Decision: checklist.Decision{Accepted: random.IntN(4) > 0},
				Entry:    checklist.Entry{Device: []string{"a", "b", "c", "d"}[random.IntN(4)], Role: []checklist.Role{checklist.Lead, checklist.Installer, checklist.Installer}[random.IntN(3)]},
			}})
		}
		counts := make([]bool, n)
		for i, p := range s.Photos {
			here, device, job, there := 0, int64(0), int64(0), 0
			again := false
			for k, before := range s.Photos[:i] {
				if !counts[k] {
					continue
				}
				again = again || before.SHA256 == p.SHA256
				job += before.Bytes
				there++
				if before.Record.Entry.Device == p.Record.Entry.Device {
					device += before.Bytes
					here++
				}
			}
			lead := p.Record.Entry.Role == checklist.Lead && p.Record.Accepted
			counts[i] = !again && (lead || here < 500 && device+p.Bytes <= 256<<20) && there < 2000 && job+p.Bytes <= 1<<30
		}
		for i, p := range s.Photos {
			fits := false
			for k, q := range s.Photos {
				fits = fits || counts[k] && q.SHA256 == p.SHA256
			}
			if got := s.PhotoRoom(p.SHA256); (got == checklist.PhotoFits) != fits {
				t.Fatalf("photo of naming %d: room %v, wanted to fit: %v", i, got, fits)
			}
		}
	})
}

// TestTemplate_Photo: where a photo is worth most, the step says what it should show.
func TestTemplate_Photo(t *testing.T) {
	for _, id := range []string{"studs", "wire", "drill", "bridges", "hang", "isolate"} {
		assert.NotEmpty(t, checklist.Loudspeakers.Step(id).Photo, id)
	}
}
