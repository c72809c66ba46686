package nb

import "testing"

// What Markdown of the supported part becomes, after the CommonMark
// specification 0.31, and what stays as typed.
func TestTextAsHTML(t *testing.T) {
	for _, c := range [][2]string{
		{"one\ntwo\n\nthree", "<p>one\ntwo</p>\n<p>three</p>\n"},
		{"**98.5 dB** and *hot*", "<p><strong>98.5 dB</strong> and <em>hot</em></p>\n"},
		{"`a*b*c` **x `y` z**", "<p><code>a*b*c</code> **x <code>y</code> z**</p>\n"},
		{"2 * 3 * 4", "<p>2 * 3 * 4</p>\n"},
		{"## Box\ntext", "<h2>Box</h2>\n<p>text</p>\n"},
		{"#no heading", "<p>#no heading</p>\n"},
		{"list:\n- one\n  more\n- two\n\nend", "<p>list:</p>\n<ul>\n<li>one\nmore</li>\n<li>two</li>\n</ul>\n<p>end</p>\n"},
		{"<script>alert('x')</script> & co", "<p>&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; co</p>\n"},
		{"**<b>**", "<p><strong>&lt;b&gt;</strong></p>\n"},
		{"`<b>`", "<p><code>&lt;b&gt;</code></p>\n"},
		{"", ""},
	} {
		if got := toHTML(c[0]); got != c[1] {
			t.Errorf("%q becomes %q, want %q", c[0], got, c[1])
		}
	}
}
