"""The service worker of the bench, served where its scope is /bench/ and nothing else."""

import json

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.views.decorators.http import require_GET

from jobs.views.access import at_the_bench
from jobs.views.middleware import StudioRequest

SCRIPT = """// What is kept of the bench's pages belongs to one version of the static files.
self.VERSION = {version};
self.STATIC = {static};
self.AWAY = {away};
importScripts({script});
"""


@require_GET
@at_the_bench
def bench_worker(_request: StudioRequest) -> HttpResponse:
    """A few lines that name the version and load the worker itself; another version is another worker."""
    version = getattr(staticfiles_storage, "manifest_hash", "") or "unhashed"
    words = {"version": version, "static": settings.STATIC_URL, "script": static("js/worker.js")}
    words["away"] = render_to_string("bench/away.html")
    script = SCRIPT.format(**{name: json.dumps(word) for name, word in words.items()})
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})
