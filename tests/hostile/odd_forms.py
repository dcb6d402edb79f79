"""Forms that no browser sends: what is handed in to the server as a file, one thing wrong with each."""

HEAD = b'Content-Disposition: form-data; name="file"; filename="a.csv"\r\nContent-Type: text/csv\r\n\r\n'
GOOD = b"--m\r\n" + HEAD + b"point,date\n\r\n--m--\r\n"
MULTI = "multipart/form-data; boundary=m"


def named(name: bytes) -> bytes:
    """A form with a file of that name."""
    return GOOD.replace(b"a.csv", name)


FORMS = {
    "as it should be": (MULTI, GOOD),
    "no boundary told": ("multipart/form-data", GOOD),
    "an empty boundary": ("multipart/form-data; boundary=", GOOD),
    "another boundary": ("multipart/form-data; boundary=other", GOOD),
    "a boundary of 100 kB": ("multipart/form-data; boundary=" + "m" * 50_000, GOOD),
    "no form at all": ("text/csv", b"point,date\n"),
    "a form of the other kind": ("application/x-www-form-urlencoded", b"file=a&" * 9_000),
    "nested forms": ("multipart/mixed; boundary=m", GOOD),
    "nothing": (MULTI, b""),
    "never ended": (MULTI, GOOD[:-9]),
    "the end alone": (MULTI, b"--m--\r\n"),
    "no file in it": (MULTI, b'--m\r\nContent-Disposition: form-data; name="x"\r\n\r\n1\r\n--m--\r\n'),
    "two files": (MULTI, b"--m\r\n" + HEAD + b"1\r\n" + GOOD),
    "two thousand files": (MULTI, (b"--m\r\n" + HEAD + b"1\r\n") * 2_000 + b"--m--\r\n"),
    "two thousand fields": (
        MULTI,
        b'--m\r\nContent-Disposition: form-data; name="x"\r\n\r\n1\r\n' * 2_000 + b"--m--\r\n",
    ),
    "a field of 900 kB": (
        MULTI,
        b'--m\r\nContent-Disposition: form-data; name="x"\r\n\r\n' + b"1" * 900_000 + b"\r\n--m--\r\n",
    ),
    "a heading of 500 kB": (MULTI, GOOD.replace(b"text/csv", b"a" * 500_000)),
    "a thousand headings": (MULTI, GOOD.replace(b"Content-Type", b"X-A: 1\r\n" * 1_000 + b"Content-Type")),
    "no headings": (MULTI, b"--m\r\n\r\npoint\r\n--m--\r\n"),
    "bytes before it": (MULTI, b"\x00" * 5_000 + GOOD),
    "bytes behind it": (MULTI, GOOD + b"\xff" * 5_000),
    "lines of one sign": (MULTI, GOOD.replace(b"\r\n", b"\n")),
    "a name of 500 kB": (MULTI, named(b"n" * 500_000 + b".csv")),
    "no name": (MULTI, named(b"")),
    "a name with zeros": (MULTI, named(b"a\x00b.csv")),
    "a name that is no UTF-8": (MULTI, named(b"\xff\xfe.csv")),
    "a name with lines": (MULTI, named(b"a\r\nX-B: 1\r\n.csv")),
    "a name with quotation marks": (MULTI, named(b'a".csv"; name="other')),
    "a name twice": (MULTI, GOOD.replace(b'a.csv"', b"a.csv\"; filename*=UTF-8''..%2F..%2Fb.csv")),
    "a name in a code that is none": (MULTI, GOOD.replace(b'filename="a.csv"', b"filename*=none''%ff%fe")),
    "packed": (MULTI + "\r\nContent-Encoding: gzip", GOOD),
    "in a transfer code": (
        MULTI,
        GOOD.replace(b"Content-Type", b"Content-Transfer-Encoding: base64\r\nContent-Type"),
    ),
}
"""What it says it is, and what it is."""
LENGTHS = ["-5", "+5", "5,5", "0x10", "1e3", "\u00b2", "", "9" * 5_000, "1 2", "NaN"]
"""Lengths that are none, in the place of the length."""
PATHS = ["..%2f..%2fx", "%00", "..", "a/b", "a//b", "%5c..%5cx"]
"""Names of a file in the address, with which it would lie elsewhere."""
KEPT_NAMES = [
    "../../../escaped.csv",
    "/etc/escaped.csv",
    "..\\..\\escaped.csv",
    ".csv",
    "..csv",
    "~/.ssh/a.csv",
    "CON.csv",
    "n" * 300 + ".csv",
    "\U0001f682" * 100 + ".csv",
    "e\u0301.csv",
]
"""Names of files that lead elsewhere, or that a disk may not hold as they are."""
SHOWN_NAMES = [
    "\u202ecsv.exe.csv",
    "<img src=x onerror=alert(1)>.csv",
    "![a](http://192.0.2.1/a.png).csv",
    "[a](javascript:alert(1)).csv",
    "$\\frac{1}{0}$.csv",
    ":material/delete: :red[a].csv",
    "=cmd()|' '!A0.csv",
    "';DROP TABLE readings;--.csv",
]
"""Names of files that mean something where they are shown or stored."""
