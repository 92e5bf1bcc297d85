package events

// Thumbnail is a small upright JPEG of a scan, kept beside the chain under the SHA-256 of the original.
type Thumbnail struct {
	SHA256        Hash // of the original
	JPEG          []byte
	Width, Height int    // pixels
	Path          string // where an original that was left in its place was last seen, "" for one kept beside the book
}

// PathForgotten stands for the path of an original that was left in its place, where the path held the name of a sitter
// who was erased since.
const PathForgotten = "(forgotten)"

// Thumbnails are the small pictures beside the chain.
type Thumbnails interface {
	// Thumbnail gives the small picture of a scan.
	Thumbnail(sha256 Hash) (t Thumbnail, ok bool, err error)
}
