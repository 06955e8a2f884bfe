from django.urls import path

from whitening.cases.views import prices, products

urlpatterns = [
    path("setup/products/", products.products, name="setup_products"),
    path("setup/products/new/", products.product_new, name="product_new"),
    path("setup/products/strength/", products.strength, name="product_strength"),
    path("setup/products/<int:pk>/", products.product, name="product"),
    path("setup/prices/", prices.prices, name="setup_prices"),
    path("setup/prices/new/", prices.price_new, name="price_new"),
    path("setup/prices/<int:pk>/", prices.price, name="price"),
]
