package server

import (
	"errors"
	"fmt"
	"log/slog"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/checklist/picture"
	"hangtrue/server/photos"
)

// offsetHeader says how much of a photo has arrived, or where a piece begins.
const offsetHeader = "Upload-Offset"

// pieceType is the type of a piece: bytes that are nothing by themselves.
const pieceType = fiber.MIMEOctetStream

// photoPolicy keeps a browser from taking a photo for anything but a picture, should
// it be opened by itself.
const photoPolicy = "default-src 'none'; sandbox"

var errNoPhoto = problem(404, "No entry of this job names this photo.")

// Photo finds a photo that an entry of a job names, also a refused one, and tells
// whether it has room.
func (k *Keeper) Photo(job, sha256 string) (p checklist.Photo, room checklist.PhotoRoom, err error) {
	err = k.look(job, func(s *checklist.State) error {
		named, ok := s.Photo(sha256)
		if !ok {
			return errNoPhoto
		}
		p, room = named.Photo, s.PhotoRoom(sha256)
		return nil
	})
	return p, room, err
}

// Photos are the photos that entries of a job name, each once, in their order.
func (k *Keeper) Photos(job string) (photos []checklist.Photo, err error) {
	err = k.look(job, func(s *checklist.State) error {
		seen := map[string]bool{}
		for _, p := range s.Photos {
			if !seen[p.SHA256] {
				seen[p.SHA256] = true
				photos = append(photos, p.Photo)
			}
		}
		return nil
	})
	return photos, err
}

// named is the photo that a request is about.
func (a api) named(c *fiber.Ctx) (p checklist.Photo, room checklist.PhotoRoom, err error) {
	job, err := jobID(c)
	if err != nil {
		return p, 0, err
	}
	if !checklist.IsSHA256(c.Params("photo")) {
		return p, 0, problem(404, "A photo's name is its SHA-256: 64 digits and letters a to f.")
	}
	if a.Photos == nil {
		return p, 0, problem(404, "This server keeps no photos.")
	}
	return a.Keeper.Photo(job, c.Params("photo"))
}

// photo hands a photo out, to whoever may read a job that names it.
func (a api) photo(c *fiber.Ctx) error {
	p, _, err := a.named(c)
	if err != nil {
		return err
	}
	data, err := a.Photos.Read(p)
	if errors.Is(err, photos.ErrMissing) {
		return problem(404, "This photo has not arrived yet. It is on the phone that took it.")
	}
	if err != nil {
		return err
	}
	tag := fmt.Sprintf("%q", p.SHA256)
	c.Set(fiber.HeaderETag, tag)
	c.Set(fiber.HeaderCacheControl, "private, no-cache") // kept, and asked for again: who may read it changes
	if c.Get(fiber.HeaderIfNoneMatch) == tag {
		return c.SendStatus(fiber.StatusNotModified)
	}
	c.Set(fiber.HeaderContentSecurityPolicy, photoPolicy)
	c.Set(fiber.HeaderContentType, p.Type)
	c.Set(fiber.HeaderContentDisposition, fmt.Sprintf("inline; filename=%q", "photo-"+p.SHA256[:12]+".jpg"))
	return c.Send(data)
}

// photosHere names the photos of a job that are here whole. It does not read them.
func (a api) photosHere(c *fiber.Ctx) error {
	job, err := jobID(c)
	if err != nil {
		return err
	}
	named, err := a.Keeper.Photos(job)
	if err != nil {
		return err
	}
	here := []string{}
	for _, p := range named {
		if a.Photos != nil && a.Photos.Has(p) {
			here = append(here, p.SHA256)
		}
	}
	return answer(c, fiber.Map{"photos": here})
}

// arrived tells how much of a photo is here, or why no more of it is taken: a phone asks
// before it sends.
func (a api) arrived(c *fiber.Ctx) error {
	p, room, err := a.named(c)
	if err != nil {
		return err
	}
	by := sender(c)
	offset, whole, err := a.Photos.ArrivedFrom(by, p)
	if err == nil && !whole {
		err = noRoom(by, room)
	}
	if err != nil {
		return err
	}
	return arrival(c, offset, whole)
}

// sender is who brings a photo; whoever is no lead has a share of the room.
func sender(c *fiber.Ctx) photos.Sender {
	w := callerOf(c)
	return photos.Sender{Device: w.ID, Shares: w.level < manager}
}

// noRoom is why a job has no room for a photo.
func noRoom(by photos.Sender, room checklist.PhotoRoom) error {
	switch {
	case room == checklist.PhotoBeyondJob:
		return problem(422, "This job has as many photos as it may have: %d, or %d MiB of them.", checklist.MaxJobPhotos, checklist.MaxJobPhotoBytes>>20)
	case room == checklist.PhotoBeyondDevice && by.Shares:
		return problem(422, "One phone may bring %d photos to a job, or %d MiB of them, and this one has. Its entry stands; what more there is to show, a lead's phone can take.",
			checklist.MaxDevicePhotos, checklist.MaxDevicePhotoBytes>>20)
	}
	return nil
}

// piece takes a piece of a photo.
func (a api) piece(c *fiber.Ctx) error {
	p, room, err := a.named(c)
	if err != nil {
		return err
	}
	by := sender(c)
	if err := noRoom(by, room); err != nil {
		return err
	}
	from, err := strconv.ParseInt(c.Get(offsetHeader), 10, 64)
	if err != nil || from < 0 {
		return problem(400, "%s is %.30q, wanted where the piece begins: a whole number of 0 or more.", offsetHeader, c.Get(offsetHeader))
	}
	offset, whole, err := a.Photos.AddFrom(by, p, from, c.Request().Body())
	var place *photos.Place
	if errors.As(err, &place) {
		c.Set(offsetHeader, strconv.FormatInt(place.Want, 10))
	}
	if err != nil {
		slog.Warn("a piece of a photo was not taken", "job", c.Params("job"), "photo", p.SHA256, "device", callerOf(c).ID, "from", from, "cause", err)
		return err
	}
	if whole {
		a.Keeper.tellAgain(c.Params("job")) // who shows the job can show the photo now
	}
	return arrival(c, offset, whole)
}

func arrival(c *fiber.Ctx, offset int64, whole bool) error {
	c.Set(offsetHeader, strconv.FormatInt(offset, 10))
	return answer(c, fiber.Map{"offset": offset, "whole": whole})
}

// tellAgain has everybody who listens look at a job whose log has not grown.
func (k *Keeper) tellAgain(job string) {
	if line, err := k.Line(job); err == nil {
		k.news.Tell(job, line.Head)
	}
}

// photoProblem is what a client is told about an error of the photos; ok is false for
// any other.
func photoProblem(err error) (p Problem, ok bool) {
	var place *photos.Place
	switch {
	case errors.As(err, &place):
		p = problem(409, "The next piece of this photo begins at byte %d.", place.Want)
		p.Offset = &place.Want
	case errors.Is(err, photos.ErrLong):
		p = problem(413, "A piece has at most %d bytes and ends where the photo ends.", photos.MaxPiece)
	case errors.Is(err, photos.ErrHash):
		p = problem(422, "What arrived is not the photo that its entry names. It was dropped; send it again from its beginning.")
	case errors.Is(err, picture.ErrPicture):
		p = problem(422, "This photo is not taken: %s.", picture.Reason(err))
	case errors.Is(err, photos.ErrShare):
		p = problem(422, "This phone has brought as many photos as one may while the server runs. The photo stays on the phone; a lead's phone can still bring some.")
	case errors.Is(err, photos.ErrRoom):
		p = problem(507, "The server has no room for more photos. Entries are still taken, and photos when there is room again.")
	default:
		return p, false
	}
	return p, true
}
