package domain

// PacketFile is a photo, lab report or certificate that belongs to the answer. The packet as a zip encloses it.
type PacketFile struct {
	Hash      string         `json:"hash"`
	MediaType string         `json:"media_type"`
	Name      string         `json:"name,omitempty"`
	Bytes     int64          `json:"bytes"`
	Entry     int64          `json:"entry"` // the entry that says that this file is in the book
	Of        []PacketFileOf `json:"of"`
}

// PacketFileOf is a record that names the file.
type PacketFileOf struct {
	Kind  string `json:"kind"`
	Entry int64  `json:"entry"`
}

// Path is where the file lies in the packet's zip: found by its hash, and opened by its ending.
func (f PacketFile) Path() string { return "files/" + f.Hash + AttachmentTypes[f.MediaType] }

// mostEnclosed is how many bytes of files a packet encloses; what is more can be asked for by its hash.
const mostEnclosed = 100 << 20

// Enclosed lists the files that the packet's zip encloses, in their order, as far as they fit.
func (p *Packet) Enclosed() (out []PacketFile) {
	var bytes int64
	for _, f := range p.Files {
		if bytes+f.Bytes > mostEnclosed {
			continue
		}
		bytes += f.Bytes
		out = append(out, f)
	}
	return out
}
