package domain

import (
	"slices"
	"strings"

	"github.com/google/uuid"
)

// Attachment is a file that records name: a photo, a lab report, a certificate. The book holds what the file is; the file
// itself lies beside the book and is found by the SHA-256 of its content, so that nobody can put another in its place.
type Attachment struct {
	ID        uuid.UUID `json:"id,omitzero" format:"uuid"`
	Hash      string    `json:"hash" doc:"SHA-256 of the content, in small hexadecimal digits. Records name the file by it."`
	MediaType string    `json:"media_type" enum:"image/jpeg,image/png,image/webp,application/pdf" doc:"Told by the content."`
	Bytes     int64     `json:"bytes"`
	Name      string    `json:"name,omitempty" maxLength:"120"`
	Private   bool      `json:"private,omitempty" doc:"Only leads and the owner see it: for what concerns a person's health."`
	// Redrawn says that the file is not what the camera wrote: place, time and camera were taken out before it came in.
	Redrawn bool `json:"location_removed,omitempty" doc:"The picture was drawn anew without what the camera wrote beside it, so its place is not in the file."`
	Habits
}

// MostAttachmentBytes is the largest file that is taken.
const MostAttachmentBytes = 20 << 20

// AttachmentTypes are the kinds of files that are taken, with the ending of their names.
var AttachmentTypes = map[string]string{"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "application/pdf": ".pdf"}

func (x *Attachment) Kind() string         { return "attachment" }
func (x *Attachment) Identity() *uuid.UUID { return &x.ID }
func (x *Attachment) DoneOn() Date         { return Date{} }

func (x *Attachment) Check(_ Date, p *Problems) {
	checkFileHash(p, "/hash", x.Hash)
	p.Check(AttachmentTypes[x.MediaType] != "", "/media_type", "Only JPEG, PNG and WebP pictures and PDF files are taken.")
	p.Check(x.Bytes > 0 && x.Bytes <= MostAttachmentBytes, "/bytes", "A file has at least one byte and at most %d MB.", MostAttachmentBytes>>20)
	if x.Name != "" {
		checkName(p, "/name", x.Name)
		p.Check(!strings.ContainsAny(x.Name, `/\`), "/name", "Give the name of the file without its folder.")
	}
	p.Check(len(x.Attachments) == 0, "/attachments", "An attachment has none itself.")
}

// checkFileHash notes what is no SHA-256 as the book writes it.
func checkFileHash(p *Problems, pointer, hash string) {
	p.Check(len(hash) == 64 && strings.Trim(hash, "0123456789abcdef") == "", pointer,
		"This is no SHA-256 in 64 small hexadecimal digits. Send the file to /v1/attachments and take the hash from the answer.")
}

// mostAttachments is more than any record needs.
const mostAttachments = 20

// checkAttachments notes hashes that are none, or the same twice.
func checkAttachments(p *Problems, hashes []string) {
	p.Check(len(hashes) <= mostAttachments, "/attachments", "At most %d files fit on one record.", mostAttachments)
	for i, hash := range hashes {
		checkFileHash(p, "/attachments/"+itoa(i), hash)
		p.Check(!slices.Contains(hashes[:i], hash), "/attachments/"+itoa(i), "This file is named twice.")
	}
}
