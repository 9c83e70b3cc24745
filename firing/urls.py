"""Addresses of the firing app."""

from django.urls import URLPattern

app_name = "firing"

urlpatterns: list[URLPattern] = []
