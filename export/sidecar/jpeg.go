package sidecar

import (
	"bytes"
	"encoding/binary"
	"errors"
)

// ErrTooLong says that a description does not go into one segment of a JPEG.
var ErrTooLong = errors.New("the description is too long for a JPEG")

var (
	jpegStart = []byte{0xff, 0xd8}
	app1      = []byte{0xff, 0xe1}
	signature = []byte("http://ns.adobe.com/xap/1.0/\x00") // ISO 16684-3, table 6
)

// Embed gives a JPEG that this program made with its description inside, as the first segment. The picture stays as it is.
//
// Errors: as for Write; what is given is no JPEG; ErrTooLong for a packet of more than 65,502 bytes.
func Embed(jpeg []byte, d Description) ([]byte, error) {
	if !bytes.HasPrefix(jpeg, jpegStart) {
		return nil, errors.New("it is no JPEG")
	}
	var packet bytes.Buffer
	if err := Write(&packet, d); err != nil {
		return nil, err
	}
	if packet.Len() > 65_502 {
		return nil, ErrTooLong
	}
	length := 2 + len(signature) + packet.Len()
	head := binary.BigEndian.AppendUint16(bytes.Join([][]byte{jpegStart, app1}, nil), uint16(length))
	return bytes.Join([][]byte{head, signature, packet.Bytes(), jpeg[len(jpegStart):]}, nil), nil
}
