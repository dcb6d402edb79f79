"""How tests open a page without a browser, hand in a file and read what stands there."""

from ingest.store import Store


def opened(app, view, **address):
    """A page at an address."""
    for key, value in address.items():
        app.query_params[key] = value
    app.run()
    if view != "first":
        app.switch_page(f"views/{view}.py")
        for key, value in address.items():
            app.query_params[key] = value
        app.run()
    assert not app.exception, app.exception
    return app


def said(app):
    """All that stands on the page as text."""
    kinds = (
        app.title,
        app.subheader,
        app.markdown,
        app.caption,
        app.error,
        app.warning,
        app.info,
        app.success,
    )
    return (
        "\n".join(element.value for kind in kinds for element in kind).replace("\\", "").replace("\u2060", "")
    )


def version(path):
    return Store(path).version()


def widget(group, label):
    """The widget of that label; there must be exactly one."""
    found = [w for w in group if w.label == label]
    assert len(found) == 1, [w.label for w in group]
    return found[0]


GOOD = b"point,date,value,unit\nN-D1L-HOLLOW,2023-10-01,0.18,in\n"


MIXED = (
    b"point,date,value,unit\n"
    b"N-D1R-HOLLOW,2023-09-28,0.16,in\n"
    b"N-D1R-HOLLOW,2023-09-29,see sheet 4,in\n"
    b"N-NONE,2023-09-30,0.1,in\n"
)


def handed_in(app, name, content):
    page = opened(app, "batch")
    page.file_uploader(key="batch-files").upload(name, content).run()
    widget(page.button, "Add these files").click().run()
    assert not page.exception, page.exception
    return page


def counts(page):
    return {metric.label: metric.value for metric in page.metric}
