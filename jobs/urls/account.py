from django.contrib.auth.views import LogoutView
from django.urls import path
from django.views.i18n import set_language

from jobs.views import account, codes, sessions, tablets

urlpatterns = [
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("pair/", tablets.pair, name="pair"),
    path("pair/again/", tablets.pair_again, name="pair-again"),
    path("sign-in/code/", codes.sign_in_code, name="sign-in-code"),
    path("account/code/", codes.code_page, name="account-code"),
    path("account/code/<slug:verb>/", codes.code_do, name="account-code-do"),
    path("account/", sessions.account, name="account"),
    path("account/end-others/", sessions.sessions_end_others, name="sessions-end-others"),
    path("account/end/<uuid:handle>/", sessions.session_end, name="session-end"),
    path("password/", account.password, name="password"),
    path("language/", set_language, name="language"),
]
