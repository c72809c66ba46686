package kernel

import (
	"bytes"
	"testing"
)

// The signature is the hexadecimal HMAC-SHA256 of the four serialised parts
// (Jupyter messaging, "The wire protocol"). The expected value is from
// RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?".
func TestSignature(t *testing.T) {
	w := wire{key: []byte("Jefe")}
	parts := [][]byte{[]byte("what do "), []byte("ya want "), []byte("for "), []byte("nothing?")}
	const want = "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
	if have := w.sign(parts); string(have) != want {
		t.Errorf("signature %s, want %s", have, want)
	}
}

func TestRequestReadsBack(t *testing.T) {
	w := wire{key: []byte("secret"), session: "s"}
	id, msg, err := w.request("execute_request", map[string]string{"code": "x < 1 && é"})
	if err != nil {
		t.Fatal(err)
	}
	// A router puts the sender's identity before the message.
	frames := append([][]byte{[]byte("identity")}, msg.Frames...)
	m, err := w.parse(frames)
	if err != nil {
		t.Fatal(err)
	}
	if m.Header.ID != id || m.Header.Type != "execute_request" || m.Header.Session != "s" || m.Header.Version != "5.3" {
		t.Errorf("header %+v", m.Header)
	}
	frames[len(frames)-1] = bytes.Replace(frames[len(frames)-1], []byte("x"), []byte("y"), 1)
	if _, err := w.parse(frames); err == nil {
		t.Error("a changed message was taken")
	}
	if _, err := (wire{key: []byte("other")}).parse(msg.Frames); err == nil {
		t.Error("a message with another key was taken")
	}
	if _, err := w.parse(msg.Frames[:4]); err == nil {
		t.Error("a short message was taken")
	}
}
