"""All addresses of the service."""

from __future__ import annotations

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularSwaggerSplitView

from mappings.web import health, sign_in

urlpatterns = [
    path("", sign_in.home, name="home"),
    path("sign-in", sign_in.SignIn.as_view(), name="sign-in"),
    path("sign-out", sign_in.SignOut.as_view(), name="sign-out"),
    path("livez", health.livez),
    path("readyz", health.readyz),
    path("api/v1/schema", SpectacularJSONAPIView.as_view(), name="schema"),
    path("api/v1/docs", SpectacularSwaggerSplitView.as_view(url_name="schema", template_name="mappings/docs.html"), name="docs"),
    path("api/v1/", include("mappings.api.urls")),
]
handler400 = "mappings.project.errors.bad_request"
handler403 = "mappings.project.errors.permission_denied"
handler404 = "mappings.project.errors.not_found"
handler500 = "mappings.project.errors.server_error"
