from django.urls import path

from jobs.views import (
    setup,
    setup_accounts,
    setup_days,
    setup_export,
    setup_letters,
    setup_people,
    setup_quotes,
    setup_tokens,
)

urlpatterns = [
    path("", setup.overview, name="set-up"),
    path("studio/", setup.studio, name="set-up-studio"),
    path("stations/", setup.station_list, name="set-up-stations"),
    path("stations/<int:pk>/", setup.station_change, name="set-up-station"),
    path("people/", setup_people.person_list, name="set-up-people"),
    path("people/<int:pk>/", setup_people.person_page, name="set-up-person"),
    path("people/<int:pk>/pin/", setup_people.person_pin, name="set-up-person-pin"),
    path("people/<int:pk>/skills/", setup_people.person_skills, name="set-up-person-skills"),
    path("people/<int:pk>/week/", setup_people.person_week, name="set-up-person-week"),
    path("people/<int:pk>/days-off/", setup_people.person_day_off, name="set-up-day-off"),
    path(
        "people/<int:pk>/days-off/<int:off>/remove/",
        setup_people.person_day_off_remove,
        name="set-up-day-off-remove",
    ),
    path("people/<int:pk>/extra-hours/", setup_people.person_extra_hours, name="set-up-extra-hours"),
    path(
        "people/<int:pk>/extra-hours/<int:extra>/remove/",
        setup_people.person_extra_hours_remove,
        name="set-up-extra-hours-remove",
    ),
    path("closed-days/", setup_days.closed_day_list, name="set-up-closed-days"),
    path("closed-days/<int:pk>/remove/", setup_days.closed_day_remove, name="set-up-closed-day-remove"),
    path("closed-days/holidays/<int:year>/", setup_days.public_holidays, name="set-up-holidays"),
    path("quotes/", setup_quotes.quote_settings, name="set-up-quotes"),
    path("letters/", setup_letters.letter_settings, name="set-up-letters"),
    path("export/", setup_export.export, name="set-up-export"),
    path("tokens/", setup_tokens.token_list, name="set-up-tokens"),
    path("tokens/<int:pk>/revoke/", setup_tokens.token_revoke, name="set-up-token-revoke"),
    path("accounts/", setup_accounts.account_list, name="set-up-accounts"),
    path("accounts/<int:pk>/", setup_accounts.account_page, name="set-up-account"),
    path("accounts/<int:pk>/password/", setup_accounts.account_password, name="set-up-account-password"),
    path("accounts/<int:pk>/end/", setup_accounts.account_end, name="set-up-account-end"),
]
