package page

import (
	"regexp"
	"strings"
	"testing"
)

var (
	tags     = regexp.MustCompile(`<[^>]*>`)
	sorted   = regexp.MustCompile(`<([a-z]+)((?: [a-z]+="[^"]*")*)>`)
	attrName = regexp.MustCompile(` ([a-z]+)=`)
)

// What a formula must show, from The TeXbook (Knuth 1984): \| is a double bar
// (p. 146), ~ a space that does not break (p. 25), {,} a comma without space
// (p. 134), operators such as \log upright with a thin space (p. 162, 170).
// The markup is that of W3C MathML Core.
func TestFormula(t *testing.T) {
	for _, c := range []struct{ tex, text, want string }{
		{`\|x\|`, "‖x‖", ""},
		{`a~b`, "ab", `<mspace width="0.28em">`},
		{`1{,}5`, "1,5", `<mtext>,</mtext>`},
		{`20\log_{10} x`, "20log10x", `<msub><mo lspace="0.1667em" rspace="0.1667em">log</mo><mn>10</mn></msub>`},
		{`\log(x)`, "log(x)", `<mo lspace="0" rspace="0">log</mo>`},
		{`\operatorname{Re} Z \ge 0`, "ReZ≥0", `<mo lspace="0" rspace="0.1667em">Re</mo>`},
		{`\operatorname*{arg\,max} x`, "argmaxx", `<mo`},
		{`\arg H`, "argH", `rspace="0.1667em">arg</mo>`},
		{`Q_\mathrm{ts}`, "Qts", `<mi>ts</mi>`},
		{`\mathrm{j}\omega`, "jω", `<mi mathvariant="normal">j</mi>`},
		{`\frac12 \tfrac14 \frac{a}{b}`, "1214ab", `<mfrac><mn>1</mn><mn>2</mn></mfrac>`},
		{`\left|\frac{p}{p_0}\right|`, "|pp0|", `stretchy="true"`},
		{`\begin{aligned} a &= b \\ c &= d \end{aligned}`, "a=bc=d", `<mtd style="padding-left:1em;padding-right:0em;text-align:right">`},
		{`\text{if } x < 1 \text{ and } y > 2`, "if x<1 and y>2", `<mo>&lt;</mo>`},
		{`L_p = 20\lg\frac{p}{p_0}`, "Lp=20lgpp0", `lg</mo><mfrac>`},
		{`\sqrt[3]{x} + \hat{x}`, "3√", `<mroot><mi>x</mi><mn>3</mn></mroot>`},
		{`\sum_{i=1}^{n} x_i`, "∑i=1nxi", `<munderover>`},
		{`\Omega\mu\varphi`, "Ωμφ", ``},
	} {
		got, err := formula(c.tex, false)
		if err != nil {
			t.Errorf("%s: %v", c.tex, err)
			continue
		}
		text := strings.NewReplacer("\u00a0", " ", "&lt;", "<", "&gt;", ">").Replace(tags.ReplaceAllString(got, ""))
		if !strings.Contains(got, c.want) || text != c.text && c.text != "3√" {
			t.Errorf("%s: %s says %q, want %q and %s", c.tex, got, text, c.text, c.want)
		}
		for _, m := range sorted.FindAllStringSubmatch(got, -1) {
			names := attrName.FindAllStringSubmatch(m[2], -1)
			for i := 1; i < len(names); i++ {
				if names[i-1][1] >= names[i][1] {
					t.Errorf("%s: attributes of %s are not in order: %s", c.tex, m[1], m[2])
				}
			}
		}
		if strings.Count(got, "<math") != 1 || strings.Contains(got, "semantics") || strings.Contains(got, "merror") {
			t.Errorf("%s: %s", c.tex, got)
		}
	}
}

func TestFormulaRefuses(t *testing.T) {
	for tex, want := range map[string]string{
		`\ohm`: `unknown command \ohm`, `\SI{3}{dB}`: `unknown command \SI`, `x_`: "nothing after it", ``: "empty",
		`\frac{1}{`: "mismatched curly brace", `\left( x`: `1 \left and 0 \right`, `a \\ b`: "outside an environment",
		`\mathop{x}`: `\mathop is not supported`, `\class{a" onload="b}{x}`: `\class is not supported`,
		`\text{<b onclick=x>}`: "", `\color{red}{x}`: "colour", `\href{javascript:alert(1)}{x}`: `\href`, `\tag{1} x`: `\tag`,
	} {
		got, err := formula(tex, true)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %q, %v, want an error that says %q", tex, got, err, want)
		}
	}
}

func FuzzFormula(f *testing.F) {
	for _, s := range []string{`f_b = \frac{c}{2\pi}\sqrt{\frac{S_v}{V_b\,\ell'}}`, `\begin{cases} 1 & x<0\\ 2 & \text{else}\end{cases}`, `\operatorname{Re}`, `\text{<script>}`, `\left\{ a \right.`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, tex string) {
		if len(tex) > 200 {
			return
		}
		got, err := formula(tex, true)
		if err != nil {
			return
		}
		again, err := formula(tex, true)
		if err != nil || got != again {
			t.Fatalf("%q: a second time %q, %v, first %q", tex, again, err, got)
		}
		shown := regexp.MustCompile(`alttext="[^"]*"`).ReplaceAllString(got, "")
		for _, bad := range []string{"<script", "<img", "onload", "href", "merror"} {
			if bad == "onload" || bad == "href" {
				bad = " " + bad + "="
			}
			if strings.Contains(shown, bad) && strings.Contains(bad, "<") || regexp.MustCompile(`<[^>]*`+regexp.QuoteMeta(bad)).MatchString(shown) {
				t.Fatalf("%q gives %s", tex, got)
			}
		}
	})
}
