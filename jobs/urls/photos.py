from django.urls import path

from jobs.views import photos

urlpatterns = [
    path("<int:pk>/", photos.photo, name="photo"),
    path("<int:pk>/picture.jpg", photos.photo_picture, name="photo-picture"),
    path("<int:pk>/small.jpg", photos.photo_small, name="photo-small"),
    path("<int:pk>/take-back/", photos.photo_take_back, name="photo-take-back"),
    path("<int:pk>/change/<slug:verb>/", photos.photo_do, name="photo-do"),
]
